"""What the face in the foreground says: lines for events, and the line of what is going on."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.journal.planned import a_ladder
from tests.journal.shown import exposed, ladder_ended, turn
from tether.command.talk import key_help, line_of, now_line
from tether.control.commands import WORDS
from tether.journal.records import CopyOutcome, FrameOpened, RunFailed, RungBegun, StateChanged, SuppliesSeen
from tether.journal.snapshot import Snapshot

S = 10**9
OPEN = FrameOpened(frame=3, rung=1, kind="rung", way="held", open_s=4.0, at_ns=0, closes_at_ns=20 * S)


def test_rungs_and_ends_stand_at_the_margin_and_all_else_is_set_in() -> None:
    for record in (
        RungBegun(rung=1, label="4 s", frames=2),
        ladder_ended(),
        RunFailed(ladder=1, trouble="camera", text="It is gone."),
    ):
        line = line_of(record, Snapshot())
        assert line is not None
        assert not line.startswith(" ")
    line = line_of(exposed(1), Snapshot())
    assert line is not None
    assert line.startswith("  Frame 1")


def test_what_is_not_worth_a_line_gets_none() -> None:
    assert line_of(StateChanged(before="ready", state="setting", at_ns=1), Snapshot()) is None


@pytest.mark.parametrize(
    ("now_s", "closes"),
    [(0.0, "0:20"), (10.0, "0:10"), (15.0, "5.0 s"), (20.0, "0.0 s"), (99.0, "0.0 s")],
)
def test_an_open_frame_is_counted_down_to_nothing_and_not_below(now_s: float, closes: str) -> None:
    line = now_line(Snapshot(open=OPEN), round(now_s * S))
    assert line == f"OPEN  frame 3, 4 s: closes in {closes}"


def test_an_open_frame_goes_before_a_turn_and_a_turn_before_the_state() -> None:
    asked = turn(2, "fit Calder 6", "why")
    snapshot = Snapshot(state="your turn", turn=asked)
    assert now_line(snapshot, 0) == "YOUR TURN: fit Calder 6  [space when done]"
    assert now_line(replace(snapshot, open=OPEN), 0).startswith("OPEN ")
    assert now_line(Snapshot(state="paused"), 0) == "paused"


@pytest.mark.parametrize("simulated", [True, False])
def test_a_simulated_run_says_so_in_every_line(simulated: bool) -> None:
    planned = a_ladder()
    planned = replace(planned, body=replace(planned.body, simulated=simulated))
    assert now_line(Snapshot(planned=planned), 0) == ("SIMULATED  " if simulated else "") + "ready"


def test_what_is_low_is_told_until_the_run_is_over() -> None:
    low = SuppliesSeen(battery=0.03, card_frames=None, temperature_c=None, disk_bytes=None, disk_frames=None, to_come=3)
    snapshot = Snapshot(supplies=low)
    assert "LOW: " in now_line(snapshot, 0)
    assert "3%" in now_line(snapshot, 0)
    assert "LOW" not in now_line(replace(snapshot, over=ladder_ended()), 0)
    assert "LOW" not in now_line(Snapshot(supplies=replace(low, battery=0.9)), 0)


def test_a_second_copy_is_told_where_it_has_stopped() -> None:
    fine = CopyOutcome(name="frames/a.dng", copied=3, home=4)
    assert "copy" not in now_line(Snapshot(copy=fine), 0)
    stopped = Snapshot(copy=replace(fine, problem="The disk is full."))
    assert now_line(stopped, 0) == "ready  second copy stopped at 3 of 4"
    assert "copy" not in now_line(replace(stopped, over=ladder_ended()), 0)


def test_every_key_is_told_once_and_space_by_its_name() -> None:
    lines = key_help().splitlines()
    assert len(lines) == len(WORDS)
    assert lines[0].startswith("  space  answer: ")
    while_open = {word.verb for word in WORDS if word.while_open}
    assert {line.split("  ")[-1].partition(":")[0] for line in lines if line.endswith(" (while open)")} == while_open
