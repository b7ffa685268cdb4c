"""A task that was answered too soon is taken back: before the shutter opens, and while it is open."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.engine.rig import BASE, SIX, TEN, Worked, work
from tether.control.commands import Command, Verb
from tether.engine.rung import Taking
from tether.journal.history import ladder_history
from tether.journal.records import FrameOpened, Record, StateChanged, Steered, Turn
from tether.journal.snapshot import Snapshot, after
from tether.journal.store import read_contents
from tether.report.log import log_json

THROUGH_BOTH = BASE + '[rungs]\ntimes = ["1/125", "2m"]\n' + SIX + TEN


def turns(worked: Worked) -> list[tuple[str, str]]:
    return [(one.what, one.state) for one in worked.events if isinstance(one, Turn) and one.state != "asked"]


def once(wanted: bool, said: list[bool]) -> Verb | None:
    if not wanted or said:
        return None
    said.append(True)
    return "take back"


def test_before_the_shutter_opens_the_task_is_asked_again(tmp_path: Path) -> None:
    said: list[bool] = []
    worked = work(
        tmp_path,
        THROUGH_BOTH,
        when=lambda event: once(isinstance(event, StateChanged) and event.state == "settling", said),
    )
    assert worked.outcome == "done"
    assert turns(worked) == [
        ("fit Calder 6 + Calder 10", "answered for me"),
        ("fit Calder 6 + Calder 10", "taken back"),
        ("fit Calder 6 + Calder 10", "answered for me"),
    ]


def test_while_it_is_open_it_is_closed_kept_and_repeated_and_does_not_count(tmp_path: Path) -> None:
    worked = work(tmp_path, THROUGH_BOTH, after=(2, 5.0, "take back"))
    assert worked.outcome == "done"
    assert worked.rung_outcomes() == ["done", "done"]
    of_rung = [one for one in worked.frames if one.rung == 2 and one.kind == "rung"]
    assert [one.outcome for one in of_rung] == ["closed early", "made"]
    assert all(one.files for one in of_rung)  # kept, though it does not count
    assert [one.void for one in of_rung] == [True, False]
    assert "It does not count: “fit Calder 6 + Calder 10” before it was taken back." in str(log_json(worked.told))
    through = [one for one in worked.frames if one.rung == 2 and one.kind == "proof"]
    assert [one.void for one in through] == [True, False]  # what it told is forgotten, and asked anew


def test_faces_are_told_which_task_would_be_taken_back(tmp_path: Path) -> None:
    """As the run itself says what it took back; and of the first rung, which has no task, nothing."""
    worked = work(tmp_path, THROUGH_BOTH, after=(2, 5.0, "take back"))
    snapshot, told = Snapshot(), []
    for event in worked.events:
        if isinstance(event, Steered) and event.verb == "take back":
            assert snapshot.done is not None
            assert f"“{snapshot.done.what}” will be asked again" in event.effect
        snapshot = after(snapshot, event)
        if isinstance(event, FrameOpened):
            told.append((event.rung, snapshot.done is not None))
    assert {known for rung, known in told if rung == 2} == {True}
    assert {known for rung, known in told if rung != 2} == {False}


def test_closed_at_the_moment_it_opened_there_is_no_frame_and_the_run_goes_on(tmp_path: Path) -> None:
    said: list[bool] = []

    def held(event: Record) -> bool:
        return isinstance(event, FrameOpened) and event.rung == 2 and event.kind == "rung"

    worked = work(tmp_path, THROUGH_BOTH, when=lambda event: once(held(event), said))
    assert worked.outcome == "done"
    assert [one.outcome for one in worked.frames if one.rung == 2 and one.kind == "rung"] == ["closed early", "made"]


def test_nothing_that_was_taken_back_counts_when_it_is_resumed(tmp_path: Path) -> None:
    said: list[bool] = []

    def when(event: Record) -> Verb | None:
        if isinstance(event, Turn) and event.state == "taken back":
            return "stop after this frame"
        return once(isinstance(event, FrameOpened) and event.rung == 2 and event.kind == "rung", said)

    worked = work(tmp_path, THROUGH_BOTH, when=when)
    assert worked.outcome == "stopped after a frame"
    history = ladder_history(read_contents(worked.folder).entries, 1)
    assert history is not None
    assert history.made.get(2, 0) == 0
    assert history.fitted == ()
    assert 2 not in history.proofs
    assert history.void == {one.frame for one in worked.frames if one.void}
    assert history.void
    assert not any(rung == 2 for rung, _ in history.turns)


def test_said_as_the_last_rung_ends_it_is_worked_again_and_nothing_after_it_is_upset(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Heard while the last frame is read: nothing of the rung asks any more whether the person stopped."""
    worked_through = Taking.take_all
    said: list[bool] = []

    def take_all(taking: Taking) -> None:
        worked_through(taking)
        if taking.rung.number == 2 and not said:
            said.append(True)
            taking.run.box.put(Command(verb="take back"))
            taking.run.catch_up()

    monkeypatch.setattr(Taking, "take_all", take_all)
    worked = work(tmp_path, THROUGH_BOTH)
    assert worked.outcome == "done"
    of_rung = [one for one in worked.frames if one.rung == 2 and one.kind == "rung"]
    assert [(one.outcome, one.void) for one in of_rung] == [("made", True), ("made", False)]


def test_without_a_task_before_it_there_is_nothing_to_take_back(tmp_path: Path) -> None:
    said: list[bool] = []
    worked = work(
        tmp_path, BASE + '[rungs]\ntimes = ["1/125"]\n', when=lambda event: once(isinstance(event, FrameOpened), said)
    )
    assert worked.outcome == "done"
    (steered,) = [one for one in worked.ladder.steering if one.verb == "take back"]
    assert steered.effect == "no task before this rung was answered, so there is none to take back"
