"""Tables in the terminal: complete, within the width, and the same without colour."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import Any, Literal

import pytest
from rich.console import Console, RenderableType

from tests.journal.outings import PLANNED, as_entries, run_started, weir
from tether.body.protocol import Finding
from tether.journal.planned import OtherWay, PlannedBody
from tether.journal.records import FetchOutcome, LadderStarted, Noted, Record, RunStarted
from tether.journal.telling import tell
from tether.report.checks_view import AFTER, ChecksView
from tether.report.ladder_view import LadderView
from tether.report.tables import LogView


def printed(view: RenderableType, width: int, **more: Any) -> str:
    page = io.StringIO()
    Console(file=page, width=width, **more).print(view)
    return page.getvalue()


def log(records: list[Record], width: int = 80, *, running: bool = False) -> str:
    return printed(LogView(tell(as_entries(records), name="weir", running=running)), width)


@pytest.mark.parametrize("width", [80, 120, 200])
@pytest.mark.parametrize("view", [LadderView(PLANNED, why=True), LogView(tell(as_entries(weir(end=False)), name="weir",
                                                                              running=False))])  # fmt: skip
def test_nothing_is_wider_than_the_terminal_or_cut(view: RenderableType, width: int) -> None:
    lines = printed(view, width).splitlines()
    assert max(len(line.rstrip()) for line in lines) <= width
    assert not any("…" in line for line in lines if "SIM_" not in line)


@pytest.mark.parametrize("width", [80, 120])
def test_each_frame_stands_on_its_own_line_with_what_it_was_taken_with(width: int) -> None:
    (line,) = [line for line in log(weir(), width).splitlines() if "closed early" in line]
    cells = line.split()
    assert cells[:4] == ["5", "8", "2:04", "min"]
    assert [cell for cell in ("101.00", "11", "100", "Calder", "-0.30") if cell not in cells] == []


def test_room_is_used_for_held_exif_and_file() -> None:
    wide, narrow = log(weir(), 120), log(weir(), 80)
    assert all(heading in wide for heading in ("Held", "Exif", "File", "_0008_SIM_0008.dng"))
    assert not any(heading in narrow for heading in ("Held", "Exif", "File", "SIM_0008"))


def test_a_simulated_outing_says_so_first() -> None:
    assert log(weir()).startswith("SIMULATED")
    real = replace(run_started(), simulated=False)
    assert "SIMULATED" not in log([real, *weir()[1:]])


def test_turns_steering_and_notes_are_told() -> None:
    text = " ".join(log(weir()).split())
    assert "before rung 3 fit Fenwick 4: answered (Rungs 3 and 4 are taken through it.)" in text
    assert "close and keep Frame 8 was closed after 101 s and kept." in text
    assert "frame 6 The body's 30 s was 33.6 s: 0.07 stop brighter than asked." in text
    assert "rung 6 Light fell by 0.2 stop since the base." in text
    assert "rung 2 done in part. Two of three frames." in text


def test_a_run_that_broke_off_is_told_in_full() -> None:
    text = " ".join(log(weir(end=False)).split())
    assert "broke off: its end is not in the journal" in text
    assert "frame 9 Outcome unknown: the run ended before it was known." in text


def test_what_belongs_to_no_ladder_is_told() -> None:
    stray = FetchOutcome(frame=None, card_name="X.DNG", name="frames/X.DNG", size=1, sha256="0" * 64)
    text = " ".join(log([run_started(), Noted(about="check", text="Clock is right."), stray]).split())
    assert "check Clock is right." in text
    assert "X.DNG kept as frames/X.DNG" in text


def checked(what: str, verdict: Literal["ok", "note", "stop"], text: str) -> Noted:
    return Noted(about="check", text=text, what=what, verdict=verdict)


def test_checks_in_order_take_one_line_of_the_log_and_what_stops_is_first() -> None:
    checks = [
        checked("disk", "ok", "1 GB."), checked("clock", "note", "Not set."), checked("focus", "stop", "It says AF.")
    ]  # fmt: skip
    text = log([run_started(), *checks, checked("times", "ok", "All."), *weir()[1:]], 120)
    lines = [line.split() for line in text[text.index("Checks before run 1") :].splitlines()[1:4]]
    assert lines == [
        ["fine", "disk,", "times"],
        ["focus", "STOP.", "It", "says", "AF."],
        ["clock", "Not", "set."],
    ]


@pytest.mark.parametrize("width", [80, 120])
def test_findings_fit_the_terminal_with_what_stops_first(width: int) -> None:
    long = "A sentence that is so long that it does not fit into one line of any terminal that a person would use. " * 2
    found = [Finding(what=f"ok {number}", verdict="ok", sentence="Fine.") for number in range(12)]
    found += [Finding(what="a", verdict="note", sentence=long), Finding(what="b", verdict="stop", sentence=long)]
    lines = printed(ChecksView(found), width).splitlines()
    assert max(map(len, lines)) <= width
    assert lines[0].split()[:2] == ["STOP", "b"]
    assert any(line.startswith("note") for line in lines)
    assert sum(line.startswith("ok") for line in lines) == (1 if width == 80 else 12)
    assert printed(ChecksView(found[-1:], AFTER), width).startswith("MISSING")


def test_square_brackets_in_a_title_are_only_text() -> None:
    odd = [
        replace(one, title="[bold]Weir[/x]") if isinstance(one, LadderStarted)
        else replace(one, camera=replace(one.camera, model="[red]")) if isinstance(one, RunStarted) else one
        for one in weir()
    ]  # fmt: skip
    assert "[bold]Weir[/x]" in log(odd)
    assert "[red]" in log(odd)
    assert "[/b]" in printed(LadderView(replace(PLANNED, plan="[/b]")), 80)


def test_nothing_is_told_by_colour() -> None:
    plain = printed(LadderView(PLANNED), 80)
    styled = printed(LadderView(PLANNED), 80, force_terminal=True, color_system="truecolor")
    assert "\x1b[3" not in styled
    assert styled.replace("\x1b[1m", "").replace("\x1b[0m", "") == plain


@pytest.mark.parametrize("width", [80, 120])
def test_a_planned_ladder_shows_every_rung(width: int) -> None:
    lines = printed(LadderView(PLANNED), width).splitlines()
    (longest,) = [line for line in lines if "33:00 min" in line]
    assert longest.split()[:5] == ["6", "33:00", "min", "11", "100"]
    assert "Fenwick 4 + Calder 10" in longest
    assert " 14 " in longest
    (fast,) = [line for line in lines if "1/1000" in line]
    assert fast.split()[-1] == "-1.00"


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
    assert reason not in printed(LadderView(PLANNED), 120)


def test_other_ways_are_shown_with_their_price() -> None:
    rung = replace(PLANNED.rungs[0], others=(OtherWay(words="deeper: 1/1000 s, f/8", kind="deeper", price_more=0.72),))
    assert "rung 1  deeper: 1/1000 s, f/8 (0.7 stop more)" in printed(LadderView(replace(PLANNED, rungs=(rung,))), 80)


def test_many_frames_for_one_are_told_as_such() -> None:
    rung = replace(PLANNED.rungs[3], way="many", frames=8, stands_for_s=256.0)
    assert "8 × 30 s" in printed(LadderView(replace(PLANNED, rungs=(rung,))), 80)
