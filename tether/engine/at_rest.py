"""Waiting until a camera is at rest: nothing exposed, no dark frame of its own made, nothing on its way to the card."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from tether.body.protocol import CardFile
from tether.clock import to_ns, to_s
from tether.engine.run_state import Run
from tether.engine.transfer import WRITING_S
from tether.errors import BusyError
from tether.journal.codec import Entry
from tether.journal.records import ExposeIntent, ExposeOutcome, FetchOutcome, Mentioned
from tether.plan.takes import BODY_DARK_OVER_S

#: Between two looks at card and status the camera is listened to for so long [s].
LISTEN_S = 2.0
#: A camera that says it is busy is waited for so long beyond what its last frames explain [s].
BUSY_FOR_S = 60.0


@dataclass(frozen=True, kw_only=True)
class Owed:
    """Frames that may be on the card or may still come onto it: how many, and until when the last may come [ns]."""

    frames: int
    until_ns: int


@dataclass(frozen=True, kw_only=True)
class Rested:
    """A card as it was last listed, and whether the camera was at rest by then."""

    files: tuple[CardFile, ...]
    at_rest: bool


def owed(run: Run, entries: Iterable[Entry]) -> Owed:
    """Return what the camera may still owe: by the journal, and by what an earlier camera process left."""
    now_ns, now = run.clock.now_ns(), run.clock.utc()
    fileless = _fileless(entries)
    left_s = [_left_s(run, intent, ended, began, now) for intent, ended, began in fileless]
    return Owed(frames=len(fileless), until_ns=now_ns + to_ns(max([*left_s, _left_by_stamps_s(run), 0.0])))


def _fileless(entries: Iterable[Entry]) -> list[tuple[ExposeIntent, ExposeOutcome | None, datetime]]:
    """Return the exposures that may have made a frame which is not home: intent, outcome, when that was written."""
    began: dict[int, tuple[ExposeIntent, ExposeOutcome | None, datetime]] = {}
    for entry in entries:
        match entry.record:
            case ExposeIntent() as intent:
                began[intent.frame] = (intent, None, entry.utc)
            case ExposeOutcome() as outcome if outcome.frame in began:
                intent, before, at = began[outcome.frame]
                # What is learned later of how it ended does not make it end later.
                began[outcome.frame] = (intent, outcome, at if before else entry.utc)
            case FetchOutcome(frame=int() as frame, name=str()):
                began.pop(frame, None)
    # One that was refused before it was begun made none.
    return [
        (intent, outcome, at)
        for intent, outcome, at in began.values()
        if outcome is None or outcome.outcome != "failed" or outcome.open_called_ns is not None
    ]


def _left_s(run: Run, intent: ExposeIntent, outcome: ExposeOutcome | None, written: datetime, now: datetime) -> float:
    """Return for how much longer its file may come [s]: none where that was long ago."""
    open_s = intent.open_s if outcome is None or outcome.held_s is None else outcome.held_s
    # Of an exposure that was lost only its beginning is certain: the body may have gone on with it.
    still_open_s = open_s if outcome is None or outcome.outcome == "lost" else 0.0
    most_s = still_open_s + _dark_s(run, open_s) + WRITING_S
    return min(most_s - (now - written).total_seconds(), most_s)


def _left_by_stamps_s(run: Run) -> float:
    left = run.left
    if left is None or left.close_returned_ns is None or not left.is_of(run.clock):
        return 0.0
    open_s = to_s(left.close_returned_ns - left.open_called_ns)
    return _dark_s(run, open_s) + WRITING_S - to_s(run.clock.now_ns() - left.close_returned_ns)


def _dark_s(run: Run, open_s: float) -> float:
    """Return how long the body may make a dark frame of its own [s]."""
    return 0.0 if run.abilities.dark_frame_by_body is False or open_s < BODY_DARK_OVER_S else open_s


def card_at_rest(run: Run, due: Owed) -> Rested:
    """List the card once the camera is at rest: all that may come has come or can't come any more, and it is not busy.

    Raises TetherError where the camera can't be asked.
    """
    told = False
    while True:
        try:
            files, busy = run.camera.card_files(), run.camera.status().busy
        except BusyError:
            files, busy = (), True
        coming = len([file for file in files if not run.files.is_known(file)]) < due.frames
        now_ns = run.clock.now_ns()
        if not busy and (not coming or now_ns >= due.until_ns):
            return Rested(files=files, at_rest=True)
        if now_ns >= due.until_ns + to_ns(BUSY_FOR_S if busy else 0.0):
            return Rested(files=files, at_rest=False)
        if not told:
            run.tell(Mentioned(about="note", text=_waiting(due, now_ns)))
            told = True
        listened_ns = now_ns + to_ns(LISTEN_S)
        with contextlib.suppress(BusyError):
            run.camera.new_files(1, LISTEN_S)
        run.clock.wait_until(listened_ns)


def _waiting(due: Owed, now_ns: int) -> str:
    left_s = max(to_s(due.until_ns - now_ns), 0.0)
    if not left_s:
        return "Waiting for the camera, which is busy."
    return f"Waiting, {left_s:.0f} s at most, for what the camera may still be making or writing to its card."
