"""Reading and writing labels. Forms that bodies write are from public Exif test files and from memory."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.data import rows
from tether.errors import PlanError
from tether.exposure.labels import (
    AmbiguousLabelError,
    UnreadableLabelError,
    file_label,
    parse_aperture,
    parse_iso,
    parse_time,
    time_label,
    with_unit,
)
from tether.exposure.marks import Mark, Step, aperture_marks, iso_marks, time_marks

Parse = Callable[..., Mark]

THIRD_STOP = 2 ** (1 / 3)


@pytest.mark.parametrize(
    ("text", "label", "exact"),
    [
        ("1/8", "1/8", 2**-3),
        ("0.125", "1/8", 2**-3),
        ("0,125", "1/8", 2**-3),
        ("0.1250s", "1/8", 2**-3),
        (".125 S", "1/8", 2**-3),
        ("1/8,000", "1/8000", 2**-13),
        ("1/12800", "1/12500", 2 ** (-41 / 3)),
        ("1/25600", "1/25000", 2 ** (-44 / 3)),
        ("1/60", "1/60", 2**-6),
        ("0.0167", "1/60", 2**-6),
        ("0.0166", "1/60", 2**-6),
        ("1/64", "1/60", 2**-6),
        ("1.3", "1.3", THIRD_STOP),
        ("13/10", "1.3", THIRD_STOP),
        ("1.26", "1.3", THIRD_STOP),
        ("10/13", "0.8", 1 / THIRD_STOP),
        ("1/1.3s", "0.8", 1 / THIRD_STOP),
        ("1/1.6", "0.6", 2 ** (-2 / 3)),
        ("1/2.5", "0.4", 2 ** (-4 / 3)),
        ("1.5", "1.5", 2**0.5),
        ('2"', "2", 2),
        ("2″", "2", 2),
        ("2''", "2", 2),
        ('2"5', "2.5", 2 ** (4 / 3)),
        ("  30\t", "30", 32),
        ("30/1", "30", 32),
        ("32", "30", 32),
        ("10.3", "10", 2 ** (10 / 3)),
        ("6.3", "6", 2 ** (8 / 3)),
        ("20.3", "20", 2**4.5),
        ("1:04", "1:04", 64),
        ("2:08", "2:08", 128),
        ("2:08 min", "2:08", 128),
        ("4m16s", "4:16", 256),
        ("4’16″", "4:16", 256),
        ("1:08:16", "1:08:16", 4096),
        ("1:08:16 h", "1:08:16", 4096),
    ],
)
def test_a_time_that_names_a_mark_gets_its_exact_value(text: str, label: str, exact: float) -> None:
    mark = parse_time(text)
    assert mark.label == label
    assert mark.exact == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "label", "exact"),
    [
        ("60", "1:00", 60),
        ("60s", "1:00", 60),
        ("1m", "1:00", 60),
        ("2m", "2:00", 120),
        ("2 min", "2:00", 120),
        ("3 Minutes", "3:00", 180),
        ("4m", "4:00", 240),
        ("1m30", "1:30", 90),
        ("1h", "1:00:00", 3600),
        ("1 h 30 min", "1:30:00", 5400),
        ("0.5 h", "30:00", 1800),
        ("48h", "48:00:00", 172800),
        ("61.3", "61.3", 61.3),
        ("15.1", "15.1", 15.1),
        ("30.2", "30.2", 30.2),
        ("1/60.3", "1/60.3", 1 / 60.3),
        ("1/123", "1/123", 1 / 123),
        ("1e-6", "1/1000000", 1e-6),
    ],
)
def test_any_other_time_is_taken_literally(text: str, label: str, exact: float) -> None:
    mark = parse_time(text)
    assert mark.label == label
    assert mark.exact == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize("row", [row for row in rows("exif_real_files") if row["exact_Tv"] != "(bulb)"])
def test_times_of_real_cameras(row: dict[str, str]) -> None:
    mark = parse_time(row["ExposureTime"], Step.THIRD)
    assert mark.exact == pytest.approx(2 ** -float(Fraction(row["exact_Tv"])), rel=1e-12)


@pytest.mark.parametrize(
    ("text", "label", "exact"),
    [
        ("f/11", "f/11", 2**3.5),
        ("F11", "f/11", 2**3.5),
        ("f11", "f/11", 2**3.5),
        ("11", "f/11", 2**3.5),
        ("11.0", "f/11", 2**3.5),
        (" ƒ / 5,6 ", "f/5.6", 2**2.5),
        ("f/1", "f/1.0", 1),
        ("5", "f/5.0", 2 ** (7 / 3)),
        ("f/6.7", "f/6.7", 2**2.75),
        ("0.95", "f/0.95", 0.95),
        ("f/1.9", "f/1.9", 1.9),
        ("f/128", "f/128", 128),
    ],
)
def test_apertures(text: str, label: str, exact: float) -> None:
    mark = parse_aperture(text)
    assert mark.label == label
    assert mark.exact == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "label", "exact"),
    [
        ("ISO 100", "100", 100),
        ("iso100", "100", 100),
        (" 100 ", "100", 100),
        ("ISO: 12,800", "12800", 12800),
        ("12 800", "12800", 12800),
        ("160", "160", 100 * 2 ** (2 / 3)),
        ("1100", "1100", 100 * 2**3.5),
        ("409600", "409600", 409600),
        ("6300", "6300", 6300),
        ("12", "12", 12),
    ],
)
def test_isos(text: str, label: str, exact: float) -> None:
    mark = parse_iso(text)
    assert mark.label == label
    assert mark.exact == pytest.approx(exact, rel=1e-12)


# Which labels are ambiguous: check values of scale_time.csv and scale_aperture.csv; 1/3 for 0.3 is from memory.
TWO_TIMES = {
    "1/20": (2 ** (-13 / 3), 2**-4.5),
    "0.05": (2 ** (-13 / 3), 2**-4.5),
    "1/10": (2 ** (-10 / 3), 2**-3.5),
    "1/6": (2 ** (-8 / 3), 2**-2.5),
    "0.3": (2 ** (-5 / 3), 2**-1.5),
    "1/3": (2 ** (-5 / 3), 2**-1.5),
    "6": (2 ** (8 / 3), 2**2.5),
    "10": (2 ** (10 / 3), 2**3.5),
    "20": (2 ** (13 / 3), 2**4.5),
}
TWO_APERTURES = {"f/1.2": (2 ** (1 / 3), 2**0.25), "f/13": (2 ** (11 / 3), 2**3.75)}
AMBIGUOUS = [(parse_time, text, *both) for text, both in TWO_TIMES.items()] + [
    (parse_aperture, text, *both) for text, both in TWO_APERTURES.items()
]


@pytest.mark.parametrize(("parse", "text", "third", "half"), AMBIGUOUS)
def test_the_step_in_force_decides_between_two_readings(parse: Parse, text: str, third: float, half: float) -> None:
    assert parse(text, Step.THIRD).exact == pytest.approx(third, rel=1e-12)
    assert parse(text, Step.HALF).exact == pytest.approx(half, rel=1e-12)


@pytest.mark.parametrize(("parse", "text", "third", "half"), AMBIGUOUS)
@pytest.mark.parametrize("step", [None, Step.FULL])
def test_two_readings_are_refused_and_named(
    parse: Parse, text: str, third: float, half: float, step: Step | None
) -> None:
    with pytest.raises(AmbiguousLabelError) as refusal:
        parse(text, step)
    sentence = str(refusal.value)
    for exact, name in ((third, "third"), (half, "half")):
        figures = f"{exact:.4g}"
        assert figures in sentence
        assert f"in {name} stops" in sentence
        assert parse(figures).exact == pytest.approx(exact, rel=1e-12), "the way out it offers works"


def test_no_other_mark_is_ambiguous() -> None:
    ambiguous = set()
    for step in (Step.THIRD, Step.HALF):
        for marks, parse in ((time_marks, parse_time), (aperture_marks, parse_aperture), (iso_marks, parse_iso)):
            for mark in marks(step):
                try:
                    assert parse(mark.label) == mark
                except AmbiguousLabelError:
                    ambiguous.add(mark.label)
    assert ambiguous == {"1/20", "1/10", "1/6", "0.3", "6", "10", "20", "f/1.2", "f/13"}


@pytest.mark.parametrize("step", list(Step))
def test_every_mark_reads_back_as_itself(step: Step) -> None:
    for mark in time_marks(step):
        for text in (mark.label, f" {mark.label} ", with_unit(mark.label), repr(mark.exact)):
            assert parse_time(text, step) == mark
        assert time_label(mark.exact, step) == mark.label
    for mark in aperture_marks(step):
        assert parse_aperture(mark.label, step) == parse_aperture(mark.label.upper(), step) == mark
    for mark in iso_marks(step):
        assert parse_iso(mark.label, step) == parse_iso(f"ISO {mark.label}", step) == mark


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "s",
        "bulb",
        "nan",
        "inf",
        "-1",
        "1/-8",
        "1/0",
        "1/2/3",
        "2:75",
        "1:60:00",
        "5:",
        "f/8",
        "1 2",
        "²",
        "1h2h",
    ],
)
def test_what_is_no_time_is_refused_with_forms_that_would_do(text: str) -> None:
    with pytest.raises(UnreadableLabelError, match=r"forms that would do: 1/125, 0\.5") as refusal:
        parse_time(text)
    assert f"“{text.strip()}”" in str(refusal.value)


@pytest.mark.parametrize("text", ["0", "0 s", "0/1", "0.0000009", "49h", "1e999", "172801"])
def test_what_is_beyond_all_sense_is_refused(text: str) -> None:
    with pytest.raises(UnreadableLabelError, match="a millionth of a second to 48 h"):
        parse_time(text)


@pytest.mark.parametrize(
    ("parse", "text", "what"),
    [
        (parse_aperture, "wide open", "cannot be read as an f-number"),
        (parse_aperture, "f/", "cannot be read as an f-number"),
        (parse_aperture, "f/0", r"f/0\.5 to f/512"),
        (parse_aperture, "1000", r"f/0\.5 to f/512"),
        (parse_iso, "auto", "cannot be read as a sensitivity"),
        (parse_iso, "ISO", "cannot be read as a sensitivity"),
        (parse_iso, "0", "ISO 1 to 10000000"),
        (parse_iso, "1e9", "ISO 1 to 10000000"),
    ],
)
def test_unreadable_apertures_and_isos(parse: Parse, text: str, what: str) -> None:
    with pytest.raises(UnreadableLabelError, match=what):
        parse(text)


@given(st.text(alphabet="0123456789.,:/'\"″’ smhminfISOfe+-²\u00a0", max_size=12))
def test_whatever_is_written_gives_a_sensible_value_or_a_sentence(text: str) -> None:
    for parse, least, most in ((parse_time, 9e-7, 172_801), (parse_aperture, 0.5, 512), (parse_iso, 1, 1e7)):
        outcome = parsed_or_refused(parse, text)
        if isinstance(outcome, PlanError):
            assert str(outcome).endswith(".")
        else:
            assert least <= outcome.exact <= most
            assert outcome.label


EXACT = {mark.label: mark.exact for mark in time_marks(Step.THIRD)}


@given(st.floats(min_value=1e-5, max_value=1e5))
def test_a_label_says_the_time_to_one_percent(seconds: float) -> None:
    """Taken as a mark or as a plain number; three figures are good to 0.5 %."""
    label = time_label(seconds)
    readings = {plain_seconds(label), EXACT.get(label, plain_seconds(label))}
    assert min(abs(math.log2(said / seconds)) for said in readings) < math.log2(1.0052)


@given(st.floats(min_value=0.25, max_value=60))
def test_where_frames_are_held_the_label_of_a_mark_means_that_mark(seconds: float) -> None:
    label = time_label(seconds)
    assert label not in EXACT or seconds == pytest.approx(EXACT[label], rel=0.0051)


@pytest.mark.parametrize(
    ("seconds", "label"),
    [
        (1 / 128, "1/125"),
        (0.5, "0.5"),
        (32, "30"),
        (2**-7.5, "1/181"),
        (2**-1.5, "0.354"),
        (15, "15.0"),
        (22.627, "22.6"),
        (99.97, "1:40"),
        (59.6, "59.6"),
        (60, "1:00"),
        (61.3, "61.3"),
        (64.2, "1:04"),
        (247, "4:07"),
        (4090, "1:08:10"),
    ],
)
def test_time_label(seconds: float, label: str) -> None:
    assert time_label(seconds) == label


@pytest.mark.parametrize(
    ("label", "read", "filed"),
    [
        ("1/125", "1/125 s", "1-125s"),
        ("0.5", "0.5 s", "0.5s"),
        ("30", "30 s", "30s"),
        ("4:16", "4:16 min", "4m16s"),
        ("1:08:16", "1:08:16 h", "1h08m16s"),
        ("bulb", "bulb", "bulb"),
    ],
)
def test_labels_for_reading_and_for_file_names(label: str, read: str, filed: str) -> None:
    assert with_unit(label) == read
    assert file_label(label) == filed


def parsed_or_refused(parse: Parse, text: str) -> Mark | PlanError:
    try:
        return parse(text)
    except PlanError as refusal:
        return refusal


def plain_seconds(label: str) -> float:
    if ":" in label:
        return float(sum(int(part) * 60**place for place, part in enumerate(reversed(label.split(":")))))
    above, _, below = label.partition("/")
    return float(above) / float(below or 1)
