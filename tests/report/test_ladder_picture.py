"""The picture of a ladder: whole, by itself, true to the logarithm of time, and legible without colour."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from tests.journal.outings import PLANNED
from tether.errors import PlanError
from tether.journal.planned import PlannedLadder, PlannedRung
from tether.report.ladder_picture import ladder_picture, save_ladder_picture

SVG = "{http://www.w3.org/2000/svg}"


def drawn(planned: PlannedLadder) -> ET.Element:
    return ET.fromstring(ladder_picture(planned))  # noqa: S314 (our own text)


def texts(picture: ET.Element) -> list[str]:
    return [one.text or "" for one in picture.iter(f"{SVG}text")]


def bars(picture: ET.Element) -> list[ET.Element]:
    return [one for one in picture.iter(f"{SVG}path") if one.get("fill", "").startswith("url(#stack-")]


def end_of(bar: ET.Element) -> float:
    straight = float(re.search(r" H([\d.]+) ", bar.get("d", ""))[1])  # type: ignore[index]
    radius = re.search(r"a([\d.]+),", bar.get("d", ""))
    return straight + (float(radius[1]) if radius else 0.0)


def test_every_rung_is_told_in_words() -> None:
    said = texts(drawn(PLANNED))
    for text in ("1/1000 s", "1/8 s  ×3", "2:04 min", "33:00 min", "f/8", "f/11", "3200", "25"):
        assert text in said
    assert "Fenwick 4 + Calder 10" in said
    assert "take off Fenwick 4, fit Calder 10, then cover the viewfinder" in said


def test_bars_are_as_long_as_the_logarithm_of_their_time() -> None:
    ends = [end_of(bar) for bar in bars(drawn(PLANNED))]
    stops = [math.log2(rung.time_s) for rung in PLANNED.rungs]
    per_stop = [(b - a) / (t - s) for a, b, s, t in zip(ends, ends[1:], stops, stops[1:], strict=False)]
    assert per_stop == pytest.approx([per_stop[0]] * 5, rel=0.02)


def test_each_stack_has_a_tone_and_a_hatching_of_its_own() -> None:
    picture = drawn(PLANNED)
    fills = [bar.get("fill") for bar in bars(picture)]
    assert fills == [f"url(#stack-{place})" for place in (0, 0, 1, 1, 2, 3)]
    looks = [
        (one.find(f"{SVG}rect").get("fill"), getattr(one.find(f"{SVG}path"), "attrib", {}).get("d"))  # type: ignore[union-attr]
        for one in picture.iter(f"{SVG}pattern")
    ]
    tones, hatchings = zip(*looks, strict=True)
    assert len(set(tones)) == len(set(hatchings)) == 4


def test_held_rungs_end_round_and_timed_ones_straight() -> None:
    rounds = ["a7.5,7.5" in bar.get("d", "") for bar in bars(drawn(PLANNED))]
    assert rounds == [rung.way == "held" for rung in PLANNED.rungs]


def test_many_frames_are_dashed_on_to_the_time_they_stand_for() -> None:
    rung = replace(PLANNED.rungs[3], way="many", frames=8, stands_for_s=256.0, wanted_s=256.0, wanted_label="4:16")
    picture = drawn(replace(PLANNED, rungs=(*PLANNED.rungs[:3], rung)))
    assert "4:16 min: 8 × 30 s" in texts(picture)
    assert sum(1 for one in picture.iter(f"{SVG}path") if one.get("stroke-dasharray")) == 1


def test_it_needs_nothing_from_outside() -> None:
    text = ladder_picture(PLANNED).replace('xmlns="http://www.w3.org/2000/svg"', "", 1)
    assert not re.search(r"https?:|href|<script|<image|@import|font-face", text)


def test_all_is_inside_the_picture() -> None:
    picture = drawn(PLANNED)
    _, _, width, height = map(float, picture.get("viewBox", "").split())
    assert width == 900
    for one in picture.iter(f"{SVG}text"):
        assert 0 < float(one.get("x", "")) < width
        assert 0 < float(one.get("y", "")) < height


@pytest.mark.parametrize("rungs", [PLANNED.rungs[:1], PLANNED.rungs[1:2] * 40], ids=["one", "forty alike"])
def test_one_rung_and_forty_alike_can_be_drawn(rungs: tuple[PlannedRung, ...]) -> None:
    assert len(bars(drawn(replace(PLANNED, rungs=rungs, turns=())))) == len(rungs)


def test_a_turn_after_the_last_rung_is_told_at_the_end() -> None:
    cap = replace(PLANNED.turns[0], before_rung=None, what="put the cap on", reason="Dark frames follow.")
    picture = drawn(replace(PLANNED, turns=(cap,)))
    (turn,) = [one for one in picture.iter(f"{SVG}text") if one.text == "put the cap on"]
    rows = [float(one.get("y", "")) for one in picture.iter(f"{SVG}text") if one.get("font-weight") == "bold"]
    assert float(turn.get("y", "")) > max(rows)


def test_no_rungs_is_a_sentence() -> None:
    with pytest.raises(PlanError, match="nothing to draw"):
        ladder_picture(replace(PLANNED, rungs=()))


def test_marks_of_the_language_in_a_title_are_text(tmp_path: Path) -> None:
    save_ladder_picture(replace(PLANNED, plan="Weir <&> mill"), tmp_path / "ladder.svg")
    assert "Weir <&> mill" in texts(ET.parse(tmp_path / "ladder.svg").getroot())  # noqa: S314 (our own file)
