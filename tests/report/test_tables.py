"""The log in the terminal: each frame, and what is told around the frames."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import pytest

from tests.journal.outings import as_entries, run_started, weir
from tests.journal.shown import readings
from tests.report.printing import printed
from tether.journal.records import ExposeOutcome, FetchOutcome, FrameRead, LadderEnded, Noted, Record, RegionsSet
from tether.journal.telling import tell
from tether.report.tables import LogView


def log(records: list[Record], width: int = 80, *, running: bool = False) -> str:
    return printed(LogView(tell(as_entries(records), name="weir", running=running)), width)


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


def test_what_a_mark_is_exactly_is_said_once_below_the_table() -> None:
    """The longest of those that a body timed whose number is not its time; a base of 1/8 s is what it says."""
    told = " ".join(log(weir()).split())
    assert told.count("is a mark, exactly") == 1
    assert "30 s is a mark, exactly 32 s: marks are a second doubled and halved, written rounded." in told


def test_a_ladder_that_was_stopped_says_how_far_it_is() -> None:
    stopped = [replace(one, outcome="stopped after a frame") if isinstance(one, LadderEnded) else one for one in weir()]
    assert "Outcome: stopped, 5 of 6 rungs are done " in " ".join(log(stopped).split())


def test_a_simulated_outing_says_so_first() -> None:
    assert log(weir()).startswith("SIMULATED")
    real = replace(run_started(), simulated=False)
    assert "SIMULATED" not in log([real, *weir()[1:]])


def test_a_time_of_day_that_is_a_rehearsals_own_is_said_to_be() -> None:
    """So is that of a run of real pace that goes on from a faster one, but never that of a camera's."""
    told = [("1.0", True), ("max", True), ("1.0", True), ("1.0", False), ("20.0", True)]
    runs: list[Record] = [replace(run_started(), pace=pace, simulated=simulated) for pace, simulated in told]
    lines = [line for line in log(runs, 120).splitlines() if "pace" in line]
    assert ["UTC (rehearsed time), " in line for line in lines] == [False, True, True, False, True]


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


def test_headroom_regions_and_rock_are_told_where_frames_were_read() -> None:
    """What was told of a whole ladder in a terminal before, by records."""
    said = FrameRead(frame=8, readings=readings(water=(0.83, 0.0), off_stops=-0.35))
    confirmed = RegionsSet(ladder=1, source="confirmed", cells=("wr",))
    narrow, wide = (log([*weir(), said, confirmed], width) for width in (80, 120))
    assert "Regions: proposed from what moves, and confirmed." in narrow
    assert "Headroom: of the water, where it is known: stops until a thousandth of it clips" in " ".join(narrow.split())
    assert "Rock:" not in narrow
    assert "Rock: stops that the still parts are brighter (+) or darker (-)" in wide
    (line,) = [line for line in wide.splitlines() if "closed early" in line]
    assert [cell for cell in ("0.8", "-0.35") if cell not in line.split()] == []


def test_rock_that_is_clipped_has_no_level() -> None:
    said = FrameRead(frame=8, readings=replace(readings(off_stops=-0.19), rock_clipped=True))
    (line,) = [line for line in log([*weir(), said], 120).splitlines() if "closed early" in line]
    assert "clipped" in line.split()
    assert "-0.19" not in line


def test_a_hold_without_real_time_scheduling_is_noted_at_its_frame() -> None:
    plain = [
        replace(one, realtime=False) if isinstance(one, ExposeOutcome) and one.frame == 8 else one for one in weir()
    ]
    assert "frame 8 Bulb without real-time scheduling." in " ".join(log(plain).split())
    assert "without real-time" not in log(weir())
