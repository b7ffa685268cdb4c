"""What holds of every fold of the stream: over drawn streams, and over those of real runs on a stepped clock.

What is not kept changes nothing in the story or in what resuming needs; a snapshot and what comes after it are the
whole; and all folds tell the same of the same stream: stopped, resumed, with rungs in part, retakes and lost frames.
"""

from __future__ import annotations

import queue
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from functools import reduce
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.engine.rig import BASE, SIX, TEN, world
from tests.journal.outings import START, run_started
from tests.journal.planned import a_ladder
from tests.journal.shown import differs, exposed, home, rung_ended
from tests.journal.test_codec import records
from tests.plan.plans import HEAD
from tether.control.commands import Command, Item, Verb
from tether.control.stream import Stream
from tether.journal.codec import Entry
from tether.journal.ended import ladder_end, rungs_ended
from tether.journal.history import ladder_history
from tether.journal.records import (
    Applied,
    CloseMoved,
    ExposeIntent,
    FrameKind,
    FrameOpened,
    FrameOutcome,
    Kept,
    LadderBegun,
    LadderEnded,
    LadderOutcome,
    LadderStarted,
    Record,
    RungBegun,
    RungOutcome,
    Shown,
)
from tether.journal.snapshot import Snapshot, after
from tether.journal.story import SETTLED, Outing
from tether.journal.telling import tell
from tether.plan.file import plan_from_text
from tether.service.rehearsal import Rehearsal

OUTCOMES = st.sampled_from([one for one in get_args(FrameOutcome) if one != "made, differs"])


def entries(told: Iterable[Record]) -> tuple[Entry, ...]:
    """Return records as they would be told: what is kept is numbered."""
    found: list[Entry] = []
    kept = 0
    for record in told:
        kept += isinstance(record, Kept)
        found.append(Entry(record=record, seq=kept if isinstance(record, Kept) else None, utc=START, mono_ns=1))
    return tuple(found)


def story(told: Iterable[Entry]) -> Outing:
    return tell(told, name="weir", running=False)


def shown(told: Iterable[Record], start: Snapshot | None = None) -> Snapshot:
    return reduce(after, told, start or Snapshot())


# Drawn streams: outings cut off anywhere


@st.composite
def outings(draw: st.DrawFn) -> list[Record]:
    """Draw a ladder of a few rungs, told up to any record, with things told anew and things that never came."""
    told: list[Record] = [
        run_started(),
        LadderStarted(ladder=1, title="weir", plan_text="", planned=a_ladder()),
        LadderBegun(planned=a_ladder()),
    ]
    late: list[Record] = []
    frame = 0
    for rung in range(1, draw(st.integers(1, 3)) + 1):
        told.append(RungBegun(rung=rung, label="1/8 s", frames=1))
        for _ in range(draw(st.integers(0, 3))):
            frame += 1
            told += frame_told(draw, frame, rung, late)
        if draw(st.booleans()):
            told.append(rung_ended(rung, draw(st.sampled_from(get_args(RungOutcome)))))
            late.append(rung_ended(rung, draw(st.sampled_from(get_args(RungOutcome)))))
    told += draw(st.permutations(late))
    told.append(LadderEnded(ladder=1, outcome=draw(st.sampled_from(get_args(LadderOutcome)))))
    return told[: draw(st.integers(0, len(told)))]


def frame_told(draw: st.DrawFn, frame: int, rung: int, late: list[Record]) -> Iterator[Record]:
    """Tell of one frame; what is learned of it after its rung goes to `late`."""
    kind: FrameKind = draw(st.sampled_from(["rung", "proof"]))
    yield ExposeIntent(
        frame=frame, ladder=1, rung=rung, kind=kind, way="held", planned=Applied(), asked=Applied(), open_s=2.0
    )
    if draw(st.booleans()):
        yield FrameOpened(frame=frame, rung=rung, kind=kind, way="held", open_s=2.0, at_ns=0, closes_at_ns=2)
        yield CloseMoved(frame=frame, closes_at_ns=3)
    yield exposed(frame, rung, kind, outcome=draw(OUTCOMES), held_s=draw(st.sampled_from([None, 2.0])))
    file: list[Record] = [home(frame, f"{frame}.dng"), differs(frame, *draw(st.sampled_from([(), ("ISO 200",)])))]
    if draw(st.booleans()):
        yield from file
    elif draw(st.booleans()):
        late.append(exposed(frame, rung, kind, outcome="made"))
        late.extend(file[:1])


RECORDS = st.lists(st.one_of([records(kind) for kind in get_args(Record) if issubclass(kind, Shown)]), max_size=20)


@settings(max_examples=50)
@given(outings())
def test_the_story_is_the_same_without_what_is_not_kept(told: list[Record]) -> None:
    whole = entries(told)
    assert story(whole) == story(one for one in whole if one.seq is not None)


@settings(max_examples=50)
@given(outings())
def test_what_resuming_needs_is_the_same_without_what_is_not_kept(told: list[Record]) -> None:
    whole = entries(told)
    assert ladder_history(whole, 1) == ladder_history((one for one in whole if one.seq is not None), 1)


@settings(max_examples=50)
@given(outings() | RECORDS)
def test_how_it_stands_is_the_same_without_what_is_not_shown(told: list[Record]) -> None:
    assert shown(told) == shown(one for one in told if isinstance(one, Shown))


@settings(max_examples=50)
@given(outings() | RECORDS, st.data())
def test_a_snapshot_and_what_comes_after_it_are_the_whole(told: list[Record], data: st.DataObject) -> None:
    cut = data.draw(st.integers(0, len(told)))
    assert shown(told[cut:], shown(told[:cut])) == shown(told)


@settings(max_examples=50)
@given(outings())
def test_all_folds_tell_the_same_of_a_drawn_stream(told: list[Record]) -> None:
    agree(told)


def agree(told: Sequence[Record]) -> None:
    """Assert that story, snapshot, what resuming needs and how it ended tell the same of ladder 1."""
    whole, snapshot = entries(told), shown(told)
    outing, before, ended = story(whole), ladder_history(whole, 1), ladder_end(whole, 1)
    ladder = outing.ladder(1)
    assert (ladder is None) == (before is None)
    if ladder is None or before is None:
        return
    rungs = {one.rung: one.outcome for one in ladder.rungs}
    assert rungs == {rung: one.outcome for rung, one in rungs_ended(whole, 1).items()}
    assert {one.rung: one.outcome for one in snapshot.rungs}.items() <= rungs.items()
    assert before.done == {rung for rung, outcome in rungs.items() if outcome in SETTLED}
    frames = {one.frame: one for one in ladder.frames}
    for one in snapshot.frames:
        if one.frame in frames and one.outcome is not None:
            of = frames[one.frame]
            assert (one.rung, one.kind, one.outcome, one.held_s) == (of.rung, of.kind, of.outcome, of.open_s.held)
            assert one.name == (Path(of.files[0].name).name if of.files else None)
    assert {one.frame for one in before.unfinished} == {one.frame for one in outing.open_intents if is_exposure(one)}
    lacking = {one.frame for one in frames.values() if not one.files and one.outcome != "dropped"}
    assert {one.frame for one in before.fileless} == lacking
    good = [one for one in frames.values() if one.kind == "rung" and one.outcome in ("made", "closed early")]
    assert Counter(before.made) <= Counter(one.rung for one in good if one.files)
    if ended is not None and snapshot.over is not None and isinstance(told[-1], LadderEnded):
        assert snapshot.over == ended
        assert ladder.outcome == ended.outcome


def is_exposure(intent: Any) -> bool:
    return isinstance(intent, ExposeIntent)


# Streams of real runs

_TWO = BASE + '[rungs]\ntimes = ["1/125", "4"]\nframes = 2\n[run]\nproof = false\nsettle_s = 0\n' + SIX + TEN


def told_by(
    root: Path, monkeypatch: pytest.MonkeyPatch, *, faults: list[dict[str, Any]], say: Verb | None, again: bool
) -> list[Record]:
    """Return all that a run tells, kept or not, of a ladder that is said a word in its second rung."""
    told: list[Record] = []
    real = Stream.tell

    def heard(stream: Stream, record: Record) -> None:
        told.append(record)
        real(stream, record)

    monkeypatch.setattr(Stream, "tell", heard)
    box: queue.SimpleQueue[Item] = queue.SimpleQueue()
    words = [say] if say else []

    def show(record: Record) -> None:
        if words and isinstance(record, FrameOpened) and record.rung == 2:
            box.put(Command(verb=words.pop()))

    plan = plan_from_text(HEAD + _TWO)
    first = Rehearsal.of(plan, root=root, outing=root / "outing", world=world(faults=faults))
    first.run(show, box)
    if again:
        replace(Rehearsal.of(plan, root=root, outing=root / "outing", world=world()), ladder=1).run()
    return told


@pytest.mark.parametrize(
    ("faults", "say", "again"),
    [
        pytest.param([], None, False, id="whole"),
        pytest.param([], "stop after this frame", False, id="stopped"),
        pytest.param([], "stop now and keep", True, id="stopped and gone on with"),
        pytest.param([], "drop everything", True, id="dropped and gone on with"),
        pytest.param([], "again", False, id="one more"),
        pytest.param([{"what": "vanishes", "at_frame": 2}], None, True, id="lost"),
        pytest.param([{"what": "truncates", "at_frame": 2, "times": "always"}], None, True, id="card only at first"),
    ],
)
def test_all_folds_tell_the_same_of_a_real_stream(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    faults: list[dict[str, Any]],
    say: Verb | None,
    again: bool,
) -> None:
    told = told_by(tmp_path, monkeypatch, faults=faults, say=say, again=again)
    whole = entries(told)
    kept = [one for one in whole if one.seq is not None]
    for cut in range(0, len(told) + 1, 3):
        agree(told[:cut])
        assert shown(told[cut:], shown(told[:cut])) == shown(told)
    agree(told)
    assert story(whole) == story(kept)
    assert ladder_history(whole, 1) == ladder_history(kept, 1)
