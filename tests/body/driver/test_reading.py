"""Texts of bodies' lists read as exact numbers: a table of every text by family, and whole lists of real bodies."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise
from math import log2

import pytest

from tests.data import rows
from tether.body.bodyfile import load_body_file
from tether.body.driver.profile import DialReading
from tether.body.driver.reading import SAME_STOPS, exact_of, matches, nearest_of, offered, step_of
from tether.exposure.abilities import DIALS, Dial
from tether.exposure.marks import Step, aperture_marks, iso_marks, time_marks

TEXTS = rows("choice_texts")
LISTS = rows("choice_lists")
MARKS = {"time": time_marks, "aperture": aperture_marks, "iso": iso_marks}


def reading_of(file: str, dial: str) -> DialReading:
    """Return how a body file reads one of the three dials."""
    profile = load_body_file(file).driver
    assert profile is not None
    reading: DialReading = getattr(profile, dial)
    return reading


def dial_of(row: dict[str, str]) -> Dial:
    """Return the dial of a row."""
    return next(dial for dial in DIALS if dial == row["dial"])


def name_of(row: dict[str, str]) -> str:
    """Return what a row is called among the tests."""
    what = row["text"] if "text" in row else f"{row['dump']} {row['entry']}"
    return f"{row.get('family') or row['file']} {row['dial']} {row['scale']} {what}"


@pytest.mark.parametrize("row", TEXTS, ids=name_of)
def test_every_text_is_read_as_what_it_stands_for(row: dict[str, str]) -> None:
    dial, step, reading = dial_of(row), Step(row["scale"]), reading_of(row["family"], row["dial"])
    is_bulb = dial == "time" and matches(row["text"], reading.bulb)
    assert is_bulb == (row["exact"] == "bulb")
    if not is_bulb:
        exact = exact_of(row["text"], dial, reading, step)
        assert exact == (None if row["exact"] == "none" else pytest.approx(float(row["exact"]), rel=1e-6))


def _together() -> dict[tuple[str, str, str], list[dict[str, str]]]:
    groups = defaultdict(list)
    for row in TEXTS:
        if row["exact"] not in ("bulb", "none"):
            groups[row["family"], row["dial"], row["scale"]].append(row)
    return groups


TOGETHER = [group for group in _together().values() if len(group) > 9]


@pytest.mark.parametrize("group", TOGETHER, ids=lambda group: name_of(group[0]))
def test_the_scale_is_found_from_the_list_itself(group: list[dict[str, str]]) -> None:
    first, texts = group[0], [row["text"] for row in group]
    assert step_of(texts, dial_of(first), reading_of(first["family"], first["dial"])).value == first["scale"]


@pytest.mark.parametrize("row", LISTS, ids=name_of)
def test_a_whole_list_of_a_real_body_is_read_without_an_unexplained_loss(row: dict[str, str]) -> None:
    dial, reading, texts = dial_of(row), reading_of(row["file"], row["dial"]), row["choices"].split("|")
    found = offered(texts, dial, reading)
    assert step_of(texts, dial, reading).value == row["scale"]
    offers = {one.text for one in found}
    left_out = [text for text in dict.fromkeys(texts) if text not in offers]
    assert left_out == [text for text in row["left_out"].split("|") if text]
    _is_in_order([one.exact for one in found if one.exact is not None], dial)


def _is_in_order(numbers: list[float], dial: Dial) -> None:
    """A list of a body goes one way, in steps of a third of a stop or more: a text that is misread stands out."""
    each = 2.0 if dial == "aperture" else 1.0
    steps = [each * log2(after / before) for before, after in pairwise(numbers)]
    assert all(step > 0 for step in steps) or all(step < 0 for step in steps)
    assert all(abs(step) > SAME_STOPS for step in steps)


@pytest.mark.parametrize("row", LISTS, ids=name_of)
def test_each_mark_is_written_as_the_text_that_stands_for_it_or_not_at_all(row: dict[str, str]) -> None:
    dial, reading = dial_of(row), reading_of(row["file"], row["dial"])
    found = offered(row["choices"].split("|"), dial, reading)
    known = [one for one in TEXTS if all(one[key] == row[key] for key in ("dial", "scale"))]
    meant = {one["text"]: one["exact"] for one in known if one["family"] == row["file"]}
    chosen = {mark.exact: nearest_of(found, mark.exact, dial) for mark in MARKS[dial](Step(row["scale"]))}
    texts = {exact: value.text for exact, value in chosen.items() if value is not None}
    assert len(set(texts.values())) == len(texts) >= len([one for one in found if one.exact in chosen])
    assert all(exact == pytest.approx(float(meant.get(text, exact)), rel=1e-6) for exact, text in texts.items())


def test_a_text_that_stands_in_a_list_twice_is_left_out() -> None:
    """The panasonic-gx8 dump has 0,0040s four times: which of them the library takes can't be known."""
    reading = DialReading(entries=("x",))
    assert [one.text for one in offered(["0,0050s", "0,0040s", "0,0031s", "0,0040s"], "time", reading)] == [
        "0,0050s",
        "0,0031s",
    ]


def test_a_file_can_say_the_scale_itself() -> None:
    thirds, halves = DialReading(entries=("x",), step="third"), DialReading(entries=("x",), step="half")
    assert offered(["10"], "time", thirds)[0].exact == pytest.approx(2 ** (10 / 3))
    assert offered(["10"], "time", halves)[0].exact == pytest.approx(2**3.5)


def test_a_value_that_is_no_step_is_read_as_it_stands_and_taken_for_no_mark() -> None:
    (value,) = offered(["14400"], "iso", DialReading(entries=("x",)))
    assert value.exact == 14400
    assert all(nearest_of([value], mark.exact, "iso") is None for mark in iso_marks(Step.THIRD))
