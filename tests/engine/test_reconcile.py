"""A run that is cut off anywhere and gone on with: complete, nothing twice, nothing lost, all with an outcome.

First whole ladders; then, directly, what is known of frames of an earlier run and how their end is written down.
"""

from __future__ import annotations

import queue
from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace

import pytest

from tests.engine.rig import BASE, SIX, TEN, Worked, work, world
from tests.engine.small import Telling, small_run
from tests.engine.test_faults import all_home, shut
from tests.journal.outings import as_entries
from tests.journal.planned import a_ladder, rungs_of
from tests.plan.plans import HEAD
from tether.body.stamps import Stamps
from tether.clock import to_ns
from tether.engine.reconcile import bring_to_end, made_before, reconcile
from tether.engine.run_state import Run
from tether.engine.transfer import Fetcher
from tether.journal.history import LadderHistory, ladder_history
from tether.journal.records import (
    Applied,
    ApplyIntent,
    ApplyOutcome,
    ExposeIntent,
    ExposeOutcome,
    FetchIntent,
    FetchOutcome,
    FrameOutcome,
    LadderBegun,
    LadderStarted,
    Record,
    RungEnded,
    Turn,
)
from tether.journal.snapshot import Snapshot, after
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


@pytest.mark.parametrize("part", [0, pytest.param(4, marks=pytest.mark.prove)])
def test_wherever_a_run_is_cut_off_it_is_gone_on_with(tmp_path: Path, part: int) -> None:
    whole = events_of_a_whole_run(tmp_path / "whole")
    for count in range(1 + part, whole, 9):
        root = tmp_path / str(count)
        cut_off_at(root, count)
        worked = go_on(root)
        where = f"cut off at event {count}: {worked.notes()}"
        assert worked.outcome == "done", where
        assert [ladder.ladder for ladder in worked.told.ladders] == [1], where
        assert not worked.told.open_intents, where
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


def test_faces_are_shown_a_resumed_ladder_as_the_one_ladder_that_it_is(tmp_path: Path) -> None:
    """Rungs and frames of before are there from the first word on: nobody counts six of twelve beside "done"."""
    whole = events_of_a_whole_run(tmp_path / "whole")
    cut_off_at(tmp_path / "cut", 2 * whole // 3)
    worked = go_on(tmp_path / "cut")
    snapshot = Snapshot()
    for event in worked.events:
        snapshot = after(snapshot, event)
    assert {one.rung: one.outcome for one in snapshot.rungs} == {
        rung.rung: rung.outcome for rung in worked.ladder.rungs
    }
    home = {one.frame for one in worked.frames if one.files}
    assert {one.frame for one in snapshot.frames if one.name} == home
    (begun,) = [event for event in worked.events if isinstance(event, LadderBegun)]
    assert begun.rungs
    assert begun.frames


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


# Directly


AT = datetime(2026, 10, 3, 16, 0, tzinfo=UTC)
STAMPS = Stamps(
    frame=1,
    way="held",
    asked_s=4.0,
    timebase="another boot",
    open_called_ns=to_ns(10.0),
    open_returned_ns=to_ns(10.1),
    close_called_ns=to_ns(14.0),
    close_returned_ns=to_ns(14.1),
    closed_by="camera process",
    realtime=True,
    shut=True,
)
NOTHING_TOLD = Applied(time_label="bulb", aperture=8.0, aperture_label="f/8", iso=100.0, iso_label="100")


def intent(frame: int = 1, *, way: str = "held") -> ExposeIntent:
    return ExposeIntent(
        frame=frame, ladder=1, rung=2, kind="rung", way=way, planned=Applied(), asked=NOTHING_TOLD, open_s=4.0
    )


def ended(held_s: float | None, how: FrameOutcome = "made") -> ExposeOutcome:
    return ExposeOutcome(
        frame=1,
        outcome=how,
        held_s=held_s,
        realtime=True,
        closed_by="planned",
        open_called_ns=to_ns(10.0),
        open_returned_ns=to_ns(10.5),
        close_called_ns=to_ns(14.5),
        close_returned_ns=to_ns(14.5),
        opened_utc=AT.isoformat(),
        closed_utc=None,
    )


def known(*records: Record) -> LadderHistory:
    """Return what a journal with these records tells of ladder 1."""
    started = LadderStarted(ladder=1, title="", plan_text="", planned=a_ladder())
    history = ladder_history(as_entries([started, *records]), 1)
    assert history is not None
    return history


def went_on(*records: Record, left: Stamps | None = None) -> tuple[Run, Telling]:
    """Bring to an end what these records left, with nothing on the card; return the run, and what it told."""
    journal = SimpleNamespace(entries=lambda: as_entries(records))
    run, telling, _ = small_run(BASE + '[rungs]\ntimes = ["1/125"]\n', journal=journal, left=left)
    bring_to_end(run, Fetcher(run), known(*records))
    return run, telling


def test_of_a_frame_that_was_taken_back_nothing_is_learned_when_its_file_or_its_word_comes_later() -> None:
    back = Turn(ladder=1, rung=2, what="fit Calder 6", reason="", state="taken back", fitted=[], void_from=1)
    run, _ = went_on(intent(), ended(4.0), back)
    (made,) = run.files.to_come
    assert not run.files.came(made, Path("frames/one.dng")).as_asked
    assert not run.files.good(1)


@pytest.mark.parametrize(
    ("outcome", "left", "open_s", "commands_s", "answered_s"),
    [
        (None, None, 4.0, None, 0.0),
        (ended(4.02), None, 4.02, 4.02, 0.5),
        (ended(6.0, "closed early"), None, 6.0, 6.0, 0.5),
        (ended(2.0, "made, differs"), None, 4.0, 2.0, 0.5),  # held against what was asked
        (ended(None), None, 4.0, None, 0.5),
        (None, STAMPS, 4.0, 4.0, 0.1),
        (None, replace(STAMPS, closed_by="person", close_called_ns=to_ns(12.5)), 2.5, 2.5, 0.1),
        (None, replace(STAMPS, closed_by="lost"), 4.0, None, 0.1),
        (None, replace(STAMPS, way="timed"), 4.0, None, 0.1),
        (None, replace(STAMPS, frame=7), 4.0, None, 0.0),  # of another frame
    ],
)
def test_what_an_earlier_frame_is_held_against_is_what_journal_and_stamps_tell(
    outcome: ExposeOutcome | None, left: Stamps | None, open_s: float, commands_s: float | None, answered_s: float
) -> None:
    run, _, _ = small_run(BASE + '[rungs]\ntimes = ["1/125"]\n', left=left)
    made = made_before(run, known(intent(), *([outcome] if outcome else [])), intent())
    assert made.wanted.open_s == pytest.approx(open_s)
    assert made.wanted.commands_s == (commands_s if commands_s is None else pytest.approx(commands_s))
    assert made.answered_s == pytest.approx(answered_s)
    assert made.opened_s == (pytest.approx(run.at_s(AT)) if outcome else None), "stamps of another boot tell no moment"


@pytest.mark.parametrize(
    ("left", "note", "held_s"),
    [
        (
            None,
            "The run ended while this frame was being made. Nothing more is known of how long it was open.",
            None,
        ),
        (
            STAMPS,
            (
                "The run ended while this frame was being made. The camera process closed the shutter by itself after "
                "4.000 s."
            ),
            4.0,
        ),
        (
            replace(STAMPS, closed_by="lost"),
            "The run ended while this frame was being made. It was open for between 4.00 s and 4.10 s.",
            None,
        ),
    ],
)
def test_how_an_exposure_ended_that_no_run_saw_is_written_down(
    left: Stamps | None, note: str, held_s: float | None
) -> None:
    run, telling = went_on(intent(), left=left)
    (outcome,) = telling.of(ExposeOutcome)
    assert (outcome.outcome, outcome.note, outcome.held_s) == ("lost", note, held_s)
    assert "Frame 1 is not on the card; it is taken again if its rung needs it." in telling.said
    assert (run.files.awaited, [one.frame for one in run.files.to_come]) == ([], [1])


def test_settings_and_fetches_that_were_cut_short_end_as_not_known() -> None:
    apply, fetch = ApplyIntent(frame=2, asked=NOTHING_TOLD), FetchIntent(frame=1, folder="/dcim", name="A.NEF")
    _, telling = went_on(apply, fetch)
    (applied,), (fetched,) = telling.of(ApplyOutcome), telling.of(FetchOutcome)
    assert (applied.frame, applied.problem) == (2, "the run ended before this was known")
    assert (fetched.card_name, fetched.name, fetched.problem) == ("A.NEF", None, applied.problem)


def test_a_frame_whose_end_is_known_is_not_written_down_again() -> None:
    _, telling = went_on(intent(), ended(4.0))
    assert telling.of(ExposeOutcome) == []


@pytest.mark.parametrize(("done", "said"), [([], "none"), ([3, 1], "1, 3")])
def test_what_is_finished_is_said(done: list[int], said: str) -> None:
    rungs: list[Record] = [RungEnded(ladder=1, rung=rung, outcome="done") for rung in done]
    journal = SimpleNamespace(entries=lambda: ())
    run, telling, _ = small_run(BASE + '[rungs]\ntimes = ["1/125"]\n', journal=journal)
    reconcile(run, Fetcher(run), known(*rungs))
    assert telling.said[0] == f"This ladder is resumed; rungs that are finished: {said}."
