"""How a run stands, folded from its events: what a face is given when it attaches, and keeps up to date by itself.

A snapshot and the events that follow it tell the same as all events from the start.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, assert_never

from tether.control.events import (
    CloseMoved,
    Event,
    FrameHome,
    FrameOpened,
    FrameOver,
    FrameSays,
    LadderBegun,
    LadderOver,
    RungBegun,
    RungOver,
    Said,
    State,
    StateChanged,
    SuppliesSeen,
    TurnOver,
    WishesChanged,
    YourTurn,
)

#: How many of the latest sentences a snapshot carries; the journal has them all.
SENTENCES_KEPT = 50


@dataclass(frozen=True, kw_only=True)
class FrameSoFar:
    """What is known of a frame; `name` None: not home. A file that belongs to no frame of ours has `frame` None."""

    frame: int | None
    rung: int | None = None
    kind: str | None = None
    outcome: str | None = None
    held_s: float | None = None
    name: str | None = None
    differs: tuple[str, ...] = ()
    says: FrameSays | None = None


@dataclass(frozen=True, kw_only=True)
class Snapshot:
    """How a run stands after `seq` events.

    Attributes
    ----------
    seq
        How many events are in it; the next one has the number `seq` + 1.
    state
        The state the run is in.
    planned
        The ladder (as `ladder --json` gives it); None before it has begun.
    rung
        The rung in hand.
    rungs
        The rungs of this ladder that are over, and how.
    open
        The frame whose shutter is open, with the moment it closes as said last.
    turn
        What the person is asked for and has not answered.
    supplies
        What was left to work with when it was looked at last.
    pending
        What the person said and is still to be done, in words.
    said
        The latest sentences, oldest first, at most `SENTENCES_KEPT`.
    frames
        The frames of this ladder that are over, in the order in which they ended.
    over
        How the ladder ended; None while it is worked.
    """

    seq: int = 0
    state: State = "ready"
    planned: dict[str, Any] | None = None
    rung: RungBegun | None = None
    rungs: tuple[RungOver, ...] = ()
    open: FrameOpened | None = None
    turn: YourTurn | None = None
    supplies: SuppliesSeen | None = None
    pending: tuple[str, ...] = ()
    said: tuple[Said, ...] = ()
    frames: tuple[FrameSoFar, ...] = ()
    over: LadderOver | None = None


def after(snapshot: Snapshot, event: Event) -> Snapshot:
    """Return how the run stands once `event`, the next one, has happened."""
    return replace(_changed(snapshot, event), seq=snapshot.seq + 1)


def _changed(snapshot: Snapshot, event: Event) -> Snapshot:
    match event:
        case StateChanged():
            return replace(snapshot, state=event.state)
        case LadderBegun():
            return Snapshot(state=snapshot.state, said=snapshot.said, planned=event.planned)
        case YourTurn():
            return replace(snapshot, turn=event)
        case TurnOver():
            return replace(snapshot, turn=None)
        case RungBegun():
            return replace(snapshot, rung=event)
        case FrameOpened():
            return replace(snapshot, open=event)
        case CloseMoved():
            return _close_moved(snapshot, event)
        case FrameOver():
            return _frame_over(snapshot, event)
        case FrameHome():
            return _frame_home(snapshot, event)
        case FrameSays():
            return _frame_says(snapshot, event)
        case RungOver():
            return replace(snapshot, rung=None, rungs=(*snapshot.rungs, event))
        case SuppliesSeen():
            return replace(snapshot, supplies=event)
        case WishesChanged():
            return replace(snapshot, pending=tuple(event.pending))
        case Said():
            return replace(snapshot, said=(*snapshot.said, event)[-SENTENCES_KEPT:])
        case LadderOver():
            return replace(snapshot, over=event)
    assert_never(event)


def _close_moved(snapshot: Snapshot, event: CloseMoved) -> Snapshot:
    if snapshot.open is None or snapshot.open.frame != event.frame:
        return snapshot
    return replace(snapshot, open=replace(snapshot.open, closes_at_ns=event.closes_at_ns))


def _frame_over(snapshot: Snapshot, event: FrameOver) -> Snapshot:
    opened = snapshot.open if snapshot.open and snapshot.open.frame == event.frame else None
    frame = FrameSoFar(
        frame=event.frame,
        rung=event.rung,
        kind=opened.kind if opened else None,
        outcome=event.outcome,
        held_s=event.held_s,
    )
    return replace(snapshot, open=None, frames=(*snapshot.frames, frame))


def _frame_says(snapshot: Snapshot, event: FrameSays) -> Snapshot:
    frames = (replace(one, says=event) if one.frame == event.frame else one for one in snapshot.frames)
    return replace(snapshot, frames=tuple(frames))


def _frame_home(snapshot: Snapshot, event: FrameHome) -> Snapshot:
    """Note a file that came home at its frame; where that is not among the frames so far, as an entry of its own."""
    frames = list(snapshot.frames)
    numbers = [frame.frame for frame in frames]
    if event.frame is None or event.frame not in numbers:
        frames.append(FrameSoFar(frame=event.frame))
        place = -1
    else:
        place = numbers.index(event.frame)
    frames[place] = replace(frames[place], name=event.name, differs=tuple(event.differs))
    return replace(snapshot, frames=tuple(frames))
