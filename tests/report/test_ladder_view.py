"""A planned ladder in the terminal: every rung, with what is told beside it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.journal.outings import PLANNED
from tests.report.printing import printed
from tether.journal.planned import OtherWay, PlannedBody
from tether.report.ladder_view import LadderView


@pytest.mark.parametrize("width", [80, 120])
def test_a_planned_ladder_shows_every_rung(width: int) -> None:
    lines = printed(LadderView(PLANNED), width).splitlines()
    (longest,) = [line for line in lines if "33:00 min" in line]
    assert longest.split()[:5] == ["6", "33:00", "min", "11", "100"]
    assert "Fenwick 4 + Calder 10" in longest
    assert " 14 " in longest
    (fast,) = [line for line in lines if "1/1000" in line]
    assert fast.split()[-1] == "-1.00"


def test_a_rung_is_named_by_what_was_asked_for_and_its_own_time_stands_below() -> None:
    """A bulb exposure of 54.9 s for the minute that was asked for; eight of 30 s for four."""
    bulb = replace(PLANNED.rungs[4], rung=1, time_s=54.9, wanted_s=64.0, wanted_label="1:04")
    many = replace(
        PLANNED.rungs[3], rung=2, way="many", frames=8, stands_for_s=256.0, wanted_s=256.0, wanted_label="4:16"
    )
    whole = printed(LadderView(replace(PLANNED, rungs=(bulb, many))), 80)
    rows = [line.split()[:3] for line in whole.splitlines() if line.lstrip().startswith(("1 ", "2 "))]
    assert rows[:2] == [["1", "1:04", "min"], ["2", "4:16", "min"]]
    text = " ".join(whole.split())
    assert (
        "Time: the name of the rung. Planned to be open longer or shorter: rung 1 for 54.9 s, rung 2 for 8 × 30 s."
        in text
    )
    assert "Planned to be open" not in printed(LadderView(replace(PLANNED, rungs=PLANNED.rungs[:3])), 80)


def test_what_tests_before_a_rung_are_for_is_said_below_the_table() -> None:
    rung = PLANNED.rungs[4]
    assert rung.proof is not None
    tested = replace(rung, bare=(rung.proof,) * 3)
    text = " ".join(printed(LadderView(replace(PLANNED, rungs=(tested,))), 80).split())
    assert "1 + 4 tests" in text
    assert "Tests before rung 5: 3 without its filters, for each ISO's own step, then 1 through them." in text
    assert "Tests before" not in printed(LadderView(PLANNED), 80)


def test_a_mark_that_is_another_time_exactly_is_explained_below_the_table() -> None:
    """30 s is the mark of 32 s."""
    said = "30 s is a mark, exactly 32 s: marks are a second doubled and halved, written rounded."
    timed = replace(PLANNED.rungs[3], way="timed")
    assert said in " ".join(printed(LadderView(replace(PLANNED, rungs=(timed,))), 80).split())
    assert "is a mark" not in printed(LadderView(PLANNED), 80), "a bulb exposure is as long as it says"


def test_a_planned_ladder_tells_turns_cautions_and_total() -> None:
    text = " ".join(printed(LadderView(PLANNED), 80).split())
    assert "before rung 5 cover the viewfinder (Stray light spoils long exposures.)" in text
    assert "Calder 10 is not measured: rung 5 may be a stop off." in text
    assert "1/8000 s: 2 stops of light too little." in text
    assert "always through Lorne polariser" in text
    assert "Simulated body (simulated: no camera)" in text
    forecast = " ".join(text[text.index("Forecast") :].split())
    assert (
        forecast
        == "Forecast: 10 min in all (exposing 7 min, test exposures 2 s, filters and other tasks 3 min, settling 10 s)."
    )


def test_rungs_that_must_be_had_and_frames_around_them_are_told() -> None:
    last = PLANNED.rungs[4]
    rungs = (replace(last, must=True), replace(last, rung=6, proof=None, must=True, bracket_stops=2.0))
    text = printed(LadderView(replace(PLANNED, rungs=rungs, leave_by="18:40")), 80)
    assert "1 + test, must" in text
    assert "1, +2 stops, must" in text
    assert "Where time is short, others are left out before these: rung 5, 6." in " ".join(text.split())


def test_a_body_says_whether_it_was_tried() -> None:
    real = replace(PLANNED, body=PlannedBody(name="Body", simulated=False, tried=None))
    assert "Body: Body (not tried on hardware)" in printed(LadderView(real), 80)


def test_reasons_are_shown_when_asked_for() -> None:
    reason = "Ten stops of filter; the held time takes up the rest."
    assert reason in printed(LadderView(PLANNED, why=True), 120)
    told = " ".join(printed(LadderView(PLANNED, why=True), 120).split())
    assert "Touches: what putting a filter on or taking one off is counted as" in told
    assert reason not in printed(LadderView(PLANNED), 120)


def test_other_ways_are_shown_with_their_price() -> None:
    rung = replace(PLANNED.rungs[0], others=(OtherWay(words="deeper: 1/1000 s, f/8", kind="deeper", price_more=0.72),))
    assert "rung 1  deeper: 1/1000 s, f/8 (0.7 stop more)" in printed(LadderView(replace(PLANNED, rungs=(rung,))), 80)


def test_many_frames_for_one_are_told_as_such() -> None:
    rung = replace(PLANNED.rungs[3], way="many", frames=8, stands_for_s=256.0)
    assert "8 × 30 s" in " ".join(printed(LadderView(replace(PLANNED, rungs=(rung,))), 80).split())


def test_what_was_learned_is_said_under_the_forecast_with_how_to_leave_it_out() -> None:
    learned = ("From 3 outings: 41 s to screw a filter on.",)
    text = printed(LadderView(replace(PLANNED, learned=learned)), 80)
    forecast, _, below = text.partition("Forecast: ")
    assert learned[0] not in forecast
    assert f"{learned[0]}\n" in "\n".join(line.rstrip() for line in below.splitlines())
    assert 'Without these: "learned = false" under [run], or: tether outings --forget' in below
    assert "learned" not in printed(LadderView(PLANNED), 80)
