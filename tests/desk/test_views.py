"""What is said of a run: from events as it tells them, to the words on the screen."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import reduce

import pytest

from tests.desk.rig import NOW_NS, TURN, asked, begun, held, planned, said_by
from tests.journal.shown import exposed, home, ladder_ended, readings, rung_ended
from tether.desk import views
from tether.journal.planned import PlannedBody
from tether.journal.records import (
    CopyOutcome,
    FrameKind,
    FrameOpened,
    FrameRead,
    LadderBegun,
    Record,
    RungBegun,
    StateChanged,
    Turn,
)
from tether.journal.snapshot import Snapshot, after
from tether.report.told import next_turn
from tether.wording import countdown


def told(events: Iterable[Record]) -> Snapshot:
    return reduce(after, events, Snapshot())


@pytest.mark.parametrize(
    ("left_s", "written"),
    [
        (-3, "0.0"),
        (0.04, "0.0"),
        (4.24, "4.2"),
        (9.94, "9.9"),
        (9.96, "0:10"),
        (37.2, "0:38"),
        (59.5, "1:00"),
        (725, "12:05"),
        (3599.5, "1:00:00"),
        (3720, "1:02:00"),
    ],
)
def test_a_countdown(left_s: float, written: str) -> None:
    assert countdown(left_s) == written


def test_an_open_frame_counts_down_by_the_runs_clock() -> None:
    snapshot = told(held(725))
    assert views.now(snapshot, NOW_NS).large == "12:05"
    assert views.now(snapshot, NOW_NS + 60 * 10**9).large == "11:05"
    assert views.now(snapshot, NOW_NS + 800 * 10**9).large == "0.0"
    assert views.now(snapshot, NOW_NS).sentence == "OPEN: frame 7, 4:55 min set"


def test_the_rung_is_told_with_what_it_is_taken_with() -> None:
    assert views.rung_line(told(held())) == "Rung 14 of 14   4:16 min   f/5.6   ISO 400   Calder 10 + Calder 6"
    assert views.rung_line(told(begun())) == "4 of 14 rungs are finished"
    assert views.rung_line(Snapshot()) == "The ladder has not begun"
    two: list[Record] = [LadderBegun(planned=planned()), RungBegun(rung=1, label="1/2000 s", frames=2)]
    assert views.rung_line(told(two)).endswith("no filter   frame 1 of 2")


def test_the_next_turn_is_that_of_the_ladder_after_the_rung_in_hand() -> None:
    assert next_turn(told([LadderBegun(planned=planned())])) == ("Next task: fit Calder 6, before rung 6, 6 rungs on")
    assert next_turn(told(begun())) == "Next task: fit Calder 6, before rung 6, 2 rungs on"
    assert "take off Calder 6, fit Calder 10, before rung 12" in next_turn(
        told([*begun(), rung_ended(5, "done"), rung_ended(6, "done")])
    )
    assert next_turn(told(held())) == "Next task: put the cap on for dark frames, at the end"
    no_more = replace(planned(), turns=())
    assert next_turn(told([LadderBegun(planned=no_more)])) == "No more tasks before the last rung ends"
    assert next_turn(told(asked())) == f"Your turn now: {TURN.what} ({TURN.reason})"
    assert next_turn(told([*begun(), ladder_ended("done")])) == ""


def test_the_next_turn_is_by_what_is_on_the_lens_where_that_is_not_as_planned() -> None:
    """A filter that was left out is still to be fitted for the next rung that is made through it."""
    ladder = planned()
    through = next(one for one in ladder.rungs if one.filters and one.rung + 1 in {each.rung for each in ladder.rungs})
    bare = Turn(ladder=1, rung=through.rung, what="fit Calder 6", reason="it is made so", state="answered", fitted=[])
    left_out: list[Record] = [LadderBegun(planned=ladder), bare, rung_ended(through.rung, "skipped")]
    assert next_turn(told(left_out)) == f"Next task: have on the lens Calder 6, before rung {through.rung + 1}"
    as_planned: list[Record] = [
        LadderBegun(planned=ladder),
        replace(bare, fitted=["Calder 6"]),
        rung_ended(through.rung, "done"),
    ]
    assert "take off Calder 6, fit Calder 10" in next_turn(told(as_planned))


def test_rungs_that_were_left_are_not_counted_as_finished() -> None:
    ended = [rung_ended(1, "done"), rung_ended(2, "done in part"), rung_ended(3, "failed"), rung_ended(4, "skipped")]
    snapshot = told([LadderBegun(planned=planned()), *ended])
    assert views.rung_line(snapshot) == f"2 of {len(planned().rungs)} rungs are finished"


def test_the_light_is_told_by_frames_without_filters_only() -> None:
    assert views.light(told(begun()), None, 118) == (
        "Light: -0.08 stop against the base, by frame 6 (no filter); before that -0.06, -0.04, -0.02"
    )
    filtered = [*held(), *_made(frame=7, rung=14, off=-1.5)]
    assert "by frame 6" in views.light(told(filtered), None, 118)
    closing_base = [*begun(), *_made(frame=7, rung=None, off=-0.3)]
    assert views.light(told(closing_base), None, 118).startswith("Light: -0.30 stop against the base, by frame 7")
    assert "not known yet" in views.light(told([LadderBegun(planned=planned())]), None, 118)


def _made(frame: int, rung: int | None, off: float) -> list[Record]:
    kind: FrameKind = "base" if rung is None else "rung"
    return [
        FrameOpened(frame=frame, rung=rung, kind=kind, way="timed", open_s=1, at_ns=0, closes_at_ns=1),
        exposed(frame, rung, kind),
        FrameRead(frame=frame, readings=readings(off_stops=off)),
    ]


def test_a_frame_that_burns_is_hatched_and_has_a_number() -> None:
    assert views.room(said_by(1)) == "▒▒ 0.12% water"
    assert views.room(said_by(2)) == "0.4 water"
    assert views.room(said_by(None)) == "0.8 whole"
    lines = views.frame_lines(told(begun()))
    assert views.frame_lines(told(begun()), 2) == lines[:2]
    assert [line.split()[0] for line in lines] == ["6", "5", "4", "3", "2", "1"]
    assert "▒▒ 0.12%" in lines[3]
    assert len({len(line) for line in lines}) == 1  # in columns


def test_what_is_not_known_is_a_dash() -> None:
    bare = FrameRead(frame=6, readings=readings(headroom_stops=None))
    line = views.frame_lines(told([*begun()[:-2], bare]))[0]
    assert line.count("–") == 4


def test_how_it_ended_is_told() -> None:
    over = told([*begun(), ladder_ended("failed", note="The card is full.", trouble="supply")])
    now = views.now(over, NOW_NS)
    assert now.large == "ENDED"
    assert now.sentence == "The ladder has ended: failed, 4 of 14 rungs are done. The card is full."


def test_states_without_more_to_say_are_their_word() -> None:
    settling = told([*begun(), StateChanged(before="ready", state="settling", at_ns=0)])
    assert views.now(settling, NOW_NS).large == "SETTLING"


def test_while_it_reads_frames_or_looks_at_the_camera_the_large_word_says_so() -> None:
    before = views.now(Snapshot(), NOW_NS)
    assert (before.large, before.sentence) == ("CHECKING", "Camera and computer are checked before the ladder begins.")
    copied = [home(7, "frame-7.dng"), home(8, "frame-8.dng")]
    two = [*begun(), exposed(7, 5, "rung"), exposed(8, 5, "rung"), *copied]
    reading = views.now(told(two), NOW_NS)
    assert (reading.large, reading.short) == ("READING 2 FRAMES", "READING 2")
    assert reading.sentence == "2 frames are read before the run continues; s continues without what they say."
    failed = FrameRead(frame=7, readings=None, problem="It can't be read.")
    assert views.now(told([*two, failed]), NOW_NS).large == "READING 1 FRAME"
    read = [*two, failed, FrameRead(frame=8, readings=readings())]
    assert views.now(told(read), NOW_NS).large == "GETTING ON"
    not_read = [*read, exposed(9, None, "dark"), home(9, "frame-9.dng"), home(None, "by-hand-10.dng")]
    assert views.now(told(not_read), NOW_NS).large == "GETTING ON"


def test_of_the_light_as_much_is_told_as_there_is_room_for() -> None:
    now = "Light: -0.08 stop against the base, by frame 6 (no filter)"
    assert views.light(told(begun()), None, 58) == now
    assert views.light(told(begun()), None, 78) == f"{now}; before that -0.06"
    assert views.light(told(begun()), None, 118) == f"{now}; before that -0.06, -0.04, -0.02"


def test_the_mark() -> None:
    tried = told(
        [LadderBegun(planned=replace(planned(), body=PlannedBody(name="", simulated=False, tried="2026, by us")))]
    )
    untried = told([LadderBegun(planned=replace(planned(), body=PlannedBody(name="", simulated=False, tried=None)))])
    assert views.mark(tried.planned, simulated=True).startswith("SIMULATED")
    assert views.mark(tried.planned, simulated=False) == ""
    assert "NOT TRIED" in views.mark(untried.planned, simulated=False)


def test_the_second_copy_stands_with_what_is_left_and_is_marked_where_it_has_stopped() -> None:
    fine = CopyOutcome(name="frames/a.dng", copied=3, home=4)
    assert views.supplies(Snapshot(copy=fine)) == "second copy 3 of 4"
    stopped = Snapshot(copy=replace(fine, problem="The disk is full."))
    assert views.supplies(stopped) == "! second copy stopped at 3 of 4"
