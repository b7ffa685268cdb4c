"""A run that is cut off anywhere and gone on with: complete, nothing twice, nothing lost, all with an outcome."""

from __future__ import annotations

import queue
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from tests.engine.rig import BASE, SIX, TEN, Worked, work, world
from tests.engine.test_faults import all_home, shut
from tests.journal.planned import rungs_of
from tests.plan.plans import HEAD
from tether.journal.records import Record
from tether.journal.telling import read_outing
from tether.plan.file import plan_from_text
from tether.service.rehearsal import Rehearsal

TEXT = BASE + '[rungs]\ntimes = ["1/125", "4", "2m"]\n[[rung]]\ntime = "1/4"\nframes = 2\n' + SIX + TEN


class CutOffError(BaseException):
    """Stands for the end of the run process."""


def rehearsal(root: Path) -> Rehearsal:
    plan = plan_from_text(HEAD + TEXT)
    return Rehearsal.of(plan, root=root, outing=root / "outing", world=world())


def cut_off_at(root: Path, count: int) -> None:
    """Run until the event of this number, and no further."""
    seen: list[Record] = []

    def hear(event: Record) -> None:
        seen.append(event)
        if len(seen) == count:
            raise CutOffError

    with pytest.raises(CutOffError):
        rehearsal(root).run(hear)


def go_on(root: Path) -> Worked:
    again = replace(rehearsal(root), ladder=1)
    events: list[Record] = []
    done = again.run(events.append, queue.SimpleQueue())
    return Worked(done.outcome, done.folder, read_outing(done.folder), events, again)


def events_of_a_whole_run(root: Path) -> int:
    return len(work(root, TEXT).events)


@pytest.mark.parametrize("part", [0, 4])
def test_wherever_a_run_is_cut_off_it_is_gone_on_with(tmp_path: Path, part: int) -> None:
    whole = events_of_a_whole_run(tmp_path / "whole")
    for count in range(1 + part, whole, 9):
        root = tmp_path / str(count)
        cut_off_at(root, count)
        worked = go_on(root)
        where = f"cut off at event {count}: {worked.notes()}"
        assert worked.outcome == "done", where
        assert [ladder.ladder for ladder in worked.told.ladders] == [1], where
        assert not worked.told.open_intents(), where
        assert all_home(worked), where
        assert shut(worked), where
        wanted = {rung.rung: rung.frames for rung in rungs_of(worked.ladder)}
        good = Counter(
            frame.rung
            for frame in worked.frames
            if frame.kind == "rung" and frame.outcome == "made" and frame.files and not differs(frame.notes)
        )
        assert good == wanted, where
        assert all(outcome.startswith("done") for outcome in worked.rung_outcomes()), where


def differs(notes: tuple[str, ...]) -> bool:
    """Say whether a frame is one that was noted as not as asked."""
    return any("is not as asked" in note for note in notes)


def test_what_is_done_is_not_done_again(tmp_path: Path) -> None:
    whole = events_of_a_whole_run(tmp_path / "whole")
    cut_off_at(tmp_path, whole - 1)
    before = read_outing(tmp_path / "outing").ladders[0].frames
    worked = go_on(tmp_path)
    assert worked.outcome == "done"
    assert len(worked.frames) == len(before)
    assert "is resumed; rungs that are finished: 1, 2, 3, 4" in worked.notes()


def test_answered_turns_are_not_asked_again_and_open_ones_are(tmp_path: Path) -> None:
    whole = work(tmp_path / "whole", TEXT)
    asked = [type(event).__name__ for event in whole.events]
    cut_off_at(tmp_path, asked.index("Turn") + 1)
    worked = go_on(tmp_path)
    asked_for = [(turn.rung, turn.what) for turn in worked.ladder.turns]
    assert len(asked_for) == len(set(asked_for))
    assert all(turn.state == "answered for me" for turn in worked.ladder.turns)


def test_a_stopped_ladder_is_gone_on_with_by_hand(tmp_path: Path) -> None:
    first = work(tmp_path, TEXT, outing=tmp_path / "outing", after=(2, 0.1, "stop after this frame"))
    assert first.outcome == "stopped after a frame"
    worked = go_on(tmp_path)
    assert worked.outcome == "done"
    wanted = sum(rung.frames for rung in rungs_of(worked.ladder))
    assert sum(frame.kind == "rung" for frame in worked.frames) == wanted


HELD = BASE + '[rungs]\ntimes = ["1/125", "2m"]\n[run]\nproof = false\n' + SIX + TEN


def gone_on_with(root: Path, text: str, *, faults: list[dict[str, object]]) -> Worked:
    """Work a ladder with faults of the body, then go on with it on a body that has none."""
    work(root, text, truth=world(faults=faults), outing=root / "outing")
    again = Rehearsal.of(plan_from_text(HEAD + text), root=root, outing=root / "outing", world=world())
    again = replace(again, ladder=1)
    done = again.run(lambda _event: None, queue.SimpleQueue())
    return Worked(done.outcome, done.folder, read_outing(done.folder), [], again)


def test_a_hold_whose_file_would_not_come_is_fetched_when_it_is_gone_on_with_and_not_taken_again(
    tmp_path: Path,
) -> None:
    """It is cut short at every fetch: it stays on the card, and its rung is not done."""
    worked = gone_on_with(tmp_path, HELD, faults=[{"what": "truncates", "at_frame": 2, "times": "always"}])
    assert [(frame.rung, len(frame.files)) for frame in worked.frames] == [(1, 1), (2, 1)]
    assert worked.frames[1].files[0].card_name == "SIM_0002.DNG"
    assert worked.outcome == "done"
    assert not worked.told.loose_files


def test_a_ladder_with_a_file_left_on_the_card_is_not_done(tmp_path: Path) -> None:
    fault = {"what": "truncates", "at_frame": 2, "times": "always"}
    worked = work(tmp_path, HELD, truth=world(faults=[fault]))
    assert (worked.outcome, worked.rung_outcomes()) == ("done in part", ["done", "done in part"])
