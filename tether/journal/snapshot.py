"""How a run stands, folded from what it shows: what a face is given when it attaches, and keeps up to date by itself.

A snapshot and what is shown after it tell the same as all from the start. What is told anew takes the place of what was
told before.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import reduce
from pathlib import PurePosixPath
from typing import Literal, TypeGuard

from tether.journal.codec import Entry
from tether.journal.ended import as_end, told_within
from tether.journal.planned import PlannedLadder
from tether.journal.records import (
    ANSWERED,
    CloseMoved,
    CopyOutcome,
    ExifRead,
    ExposeOutcome,
    FetchOutcome,
    FrameOpened,
    FrameRead,
    FrameSoFar,
    KeyTurn,
    LadderBegun,
    LadderChanged,
    LadderEnded,
    Mentioned,
    Record,
    RegionsShown,
    RunFailed,
    RungBegun,
    RungEnded,
    Said,
    Shown,
    State,
    StateChanged,
    Steered,
    SuppliesSeen,
    Turn,
    WishesChanged,
)

#: How many of the latest sentences a snapshot carries; the journal has them all.
SENTENCES_KEPT = 50


@dataclass(frozen=True, kw_only=True)
class Sentence:
    """Something that the run said to the person."""

    about: Literal["note", "trouble", "steered"]
    text: str


@dataclass(frozen=True, kw_only=True)
class Snapshot:
    """How a run stands.

    Attributes
    ----------
    stream
        How many shown records are in it; the next one has the number `stream` + 1.
    state
        The state the run is in.
    planned
        The ladder as planned; None before it has begun.
    rung
        The rung in hand.
    rungs
        The rungs of this ladder that are over, and how.
    open
        The frame whose shutter is open, with the moment it closes as said last.
    turn
        What the person is asked for and has not answered.
    regions
        Water and rock as they were proposed, and what the person said of them; None where none were.
    done
        The task of the rung in hand that was answered last: "take back" is about it; None: there is none to take back.
    fitted
        The filters on the lens, as the person answered last; None: nothing was asked of them yet.
    supplies
        What was left to work with when it was looked at last.
    copy
        What came last of the second copy; None: none is made, or nothing is copied yet.
    pending
        What the person said and is still to be done, in words.
    said
        The latest sentences, oldest first, at most `SENTENCES_KEPT`.
    frames
        The frames of this ladder that are over, in the order in which they ended.
    over
        How the ladder ended; None while it is worked.
    """

    stream: int = 0
    state: State = "ready"
    planned: PlannedLadder | None = None
    rung: RungBegun | None = None
    rungs: tuple[RungEnded, ...] = ()
    open: FrameOpened | None = None
    turn: Turn | KeyTurn | None = None
    regions: RegionsShown | None = None
    done: Turn | None = None
    fitted: tuple[str, ...] | None = None
    supplies: SuppliesSeen | None = None
    copy: CopyOutcome | None = None
    pending: tuple[str, ...] = ()
    said: tuple[Sentence, ...] = ()
    frames: tuple[FrameSoFar, ...] = ()
    over: LadderEnded | None = None


def so_far(entries: Iterable[Entry], ladder: int) -> Snapshot:
    """Return what a journal tells of a ladder that is resumed: its rungs that are over, and its frames."""
    return reduce(after, told_within(entries, ladder), Snapshot())


def after(snapshot: Snapshot, record: Record) -> Snapshot:
    """Return how the run stands once `record`, the next one, was told; one that is not shown changes nothing."""
    if not isinstance(record, Shown):
        return snapshot
    said = sentence(record)
    if said is not None:
        snapshot = replace(snapshot, said=(*snapshot.said, said)[-SENTENCES_KEPT:])
    return replace(_changed(snapshot, record), stream=snapshot.stream + 1)


def sentence(record: Record) -> Sentence | None:
    """Return the sentence that a record is to the person; None: it is none."""
    match record:
        case Said(named=False, frame=int() as frame):
            return Sentence(about=record.about, text=f"Frame {frame}: {record.text}")
        case Said() | Mentioned():
            return Sentence(about=record.about, text=record.text)
        case ExposeOutcome(note=str() as note):
            about: Literal["note", "trouble"] = "note" if record.outcome in ("made", "closed early") else "trouble"
            return Sentence(about=about, text=f"Frame {record.frame}: {note}")
        case FrameRead(problem=str() as problem):
            return Sentence(about="note", text=f"Frame {record.frame}: {problem}")
        case Steered(verb=verb) if verb != "answer":  # what it was the answer to says so itself
            return Sentence(about="steered", text=f"{verb}: {record.effect}")
    return None


def asks(record: Record) -> TypeGuard[Turn | KeyTurn]:
    """Say whether a record begins the person's turn."""
    return isinstance(record, Turn | KeyTurn) and record.state == "asked"


def _changed(snapshot: Snapshot, record: Record) -> Snapshot:
    match record:
        case StateChanged():
            return replace(snapshot, state=record.state)
        case LadderBegun():
            return Snapshot(
                state=snapshot.state,
                said=snapshot.said,
                planned=record.planned,
                rungs=tuple(record.rungs),
                frames=tuple(record.frames),
            )
        case LadderChanged():
            return replace(snapshot, planned=record.planned, done=record.task)
        case Turn() | KeyTurn():
            asked = record if asks(record) else None
            return replace(snapshot, turn=asked, done=_done(snapshot, record), fitted=_fitted(snapshot, record))
        case RungBegun():
            return replace(snapshot, rung=record)
        case FrameOpened():
            return replace(snapshot, open=record)
        case CloseMoved() if snapshot.open and snapshot.open.frame == record.frame:
            return replace(snapshot, open=replace(snapshot.open, closes_at_ns=record.closes_at_ns))
        case ExposeOutcome() | FetchOutcome() | ExifRead() | FrameRead():
            return _frame_known(snapshot, record)
        case RungEnded():
            others = (one for one in snapshot.rungs if one.rung != record.rung)
            return replace(snapshot, rung=None, done=None, rungs=(*others, record))
        case RegionsShown():
            return replace(snapshot, regions=record)
        case SuppliesSeen():
            return replace(snapshot, supplies=record)
        case CopyOutcome():
            return replace(snapshot, copy=record)
        case WishesChanged():
            return replace(snapshot, pending=tuple(record.pending))
        case LadderEnded() | RunFailed():
            return replace(snapshot, over=as_end(record))
    return snapshot


def _fitted(snapshot: Snapshot, turn: Turn | KeyTurn) -> tuple[str, ...] | None:
    """Return what is on the lens once a turn was told."""
    if not isinstance(turn, Turn) or turn.fitted is None or turn.state not in (*ANSWERED, "taken back"):
        return snapshot.fitted
    return tuple(turn.fitted)


def _done(snapshot: Snapshot, turn: Turn | KeyTurn) -> Turn | None:
    """Return the task that can be taken back once a turn was told: one of the plan's, or a change of filters."""
    if not isinstance(turn, Turn) or turn.rung is None:
        return snapshot.done
    if turn.state == "taken back":
        return None
    planned = snapshot.planned.turns if snapshot.planned else ()
    of_ladder = turn.fitted is not None or any((one.before_rung, one.what) == (turn.rung, turn.what) for one in planned)
    return turn if of_ladder and turn.state in ANSWERED else snapshot.done


def _frame_known(snapshot: Snapshot, record: ExposeOutcome | FetchOutcome | ExifRead | FrameRead) -> Snapshot:
    """Note what is learned of a frame at that frame; where it is not among the frames so far, it is from now on."""
    if isinstance(record, ExposeOutcome) and snapshot.open and snapshot.open.frame == record.frame:
        snapshot = replace(snapshot, open=None)
    place = _place(snapshot.frames, record.frame)
    before = snapshot.frames[place] if place < len(snapshot.frames) else FrameSoFar(frame=record.frame)
    known = _learned(before, record)
    if known.outcome is None and known.name is None:
        return snapshot  # nothing was told of its exposure, and no file of it came
    return replace(snapshot, frames=(*snapshot.frames[:place], known, *snapshot.frames[place + 1 :]))


def _place(frames: Sequence[FrameSoFar], number: int | None) -> int:
    """Return where a frame is among the frames so far, or would come; most that is learned is of the last."""
    places = range(len(frames) - 1, -1, -1) if number is not None else ()
    return next((place for place in places if frames[place].frame == number), len(frames))


def _learned(frame: FrameSoFar, record: ExposeOutcome | FetchOutcome | ExifRead | FrameRead) -> FrameSoFar:
    match record:
        case ExposeOutcome():
            return replace(
                frame,
                rung=record.rung,
                kind=record.kind,
                outcome=record.outcome,
                held_s=record.held_s,
                closed_utc=record.closed_utc or frame.closed_utc,
            )
        case FetchOutcome(name=str() as name) if frame.name is None:  # those beside it come after it
            return replace(frame, name=PurePosixPath(name).name)
        case ExifRead():
            return replace(frame, differs=tuple(record.differs))
        case FrameRead():
            return replace(frame, says=record.readings, read=True)
    return frame
