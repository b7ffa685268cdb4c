"""Bring to an end what an earlier run of a ladder left open: intents without outcome, frames that never came home."""

from __future__ import annotations

from datetime import datetime

from tether.body.hold import open_between
from tether.body.protocol import ShutterRecord
from tether.clock import to_s
from tether.engine.exposure import record_outcome
from tether.engine.frame import wait_out
from tether.engine.recovery import with_care
from tether.engine.run_state import Run
from tether.engine.transfer import LATE_S, Fetcher
from tether.journal.history import LadderHistory
from tether.journal.records import (
    ApplyIntent,
    ApplyOutcome,
    ExposeIntent,
    ExposeOutcome,
    FetchIntent,
    FetchOutcome,
    FrameOutcome,
)
from tether.journal.telling import tell
from tether.shot.comparison import AskedFrame, delay_s
from tether.shot.made import Made

_UNKNOWN = "the run ended before this was known"


def reconcile(run: Run, fetcher: Fetcher, before: LadderHistory) -> None:
    """Say that a ladder is gone on with, and bring what the earlier run left to an end."""
    done = ", ".join(str(rung) for rung in sorted(before.done)) or "none"
    run.say("note", f"This ladder is resumed; rungs that are finished: {done}.")
    bring_to_end(run, fetcher, before)


def read_again(run: Run, fetcher: Fetcher, before: LadderHistory) -> None:
    """Have the frames read that came home when there was no time left to read them."""
    for intent, name in before.unread:
        fetcher.read_again(made_before(run, before, intent), run.folder.path / name)


def bring_to_end(run: Run, fetcher: Fetcher, before: LadderHistory) -> None:
    """Look at the card, file what belongs to frames of the earlier run, and write down how each of them ended."""
    _close_intents(run)
    run.files.void |= before.void
    fetcher.know(before.clock, writes_fractions=before.writes_fractions)
    among = [made_before(run, before, one) for one in before.fileless]
    unfinished = {one.frame for one in before.unfinished}
    for made in among:
        run.files.owe(made)
    run.files.expect_perhaps(made for made in among if made.frame in unfinished)
    if run.left is not None and run.left.is_of(run.clock):
        for made in among:
            if made.frame == run.left.frame:  # which the body may still time by itself
                wait_out(run, run.left.free_at_ns, made)
    if among:
        fetcher.queue(with_care(run, lambda: run.camera.new_files(len(among), LATE_S), rung=None))
    fetcher.queue(with_care(run, run.camera.card_files, rung=None))
    fetcher.drain()
    for intent in before.unfinished:
        _write_outcome(run, intent, home=run.files.path(intent.frame) is not None)
    for made in run.files.to_come:
        text = f"Frame {made.frame} is not on the card; it is taken again if its rung needs it."
        run.say("note", text, frame=made.frame, rung=made.rung)
    run.files.expect_perhaps(run.files.awaited)  # one that still comes is filed all the same


def _close_intents(run: Run) -> None:
    """Settings and fetches that were cut short are simply done again; say that their outcome is not known."""
    for intent in tell(run.journal.entries(), name="", running=False).open_intents:
        if isinstance(intent, ApplyIntent):
            run.tell(ApplyOutcome(frame=intent.frame, read_back=None, problem=_UNKNOWN))
        elif isinstance(intent, FetchIntent):
            run.tell(
                FetchOutcome(
                    frame=intent.frame, card_name=intent.name, name=None, size=None, sha256=None, problem=_UNKNOWN
                )
            )


def _opening(run: Run, frame: int) -> ShutterRecord | None:
    """Return what the camera process before knew of an exposure, from the stamps it left."""
    left = run.left
    if left is None or left.frame != frame:
        return None
    return left.opening(left.open_called_ns)


def made_before(run: Run, before: LadderHistory, intent: ExposeIntent) -> Made:
    """Return what the file of an exposure of an earlier run is held against, as far as is known of it."""
    outcome, opening = before.outcomes.get(intent.frame), _opening(run, intent.frame)
    open_s, commands_s = _open_s(intent, outcome, opening)
    return Made(
        frame=intent.frame,
        kind=intent.kind,
        rung=intent.rung,
        wanted=AskedFrame(
            way="held" if intent.way == "held" else "timed",
            asked=intent.asked,
            open_s=open_s,
            commands_s=commands_s,
            within_s=delay_s(run.abilities),
        ),
        filters=tuple(intent.filters),
        filter_stops=intent.filter_stops,
        opened_s=_opened_s(run, outcome, opening),
        answered_s=_answered_s(outcome, opening),
    )


def _open_s(
    intent: ExposeIntent, outcome: ExposeOutcome | None, opening: ShutterRecord | None
) -> tuple[float, float | None]:
    """Return how long a frame should have been open, and how long it was by our commands where that is known [s]."""
    if outcome is not None and outcome.held_s is not None:
        as_asked = outcome.outcome in ("made", "closed early")  # with what the person changed while it was open
        return (outcome.held_s if as_asked else intent.open_s), outcome.held_s
    if opening is None or opening.way == "timed" or opening.closed_by == "lost":
        return intent.open_s, None
    return (opening.held_s if opening.closed_by == "person" else opening.asked_s), opening.held_s


def _opened_s(run: Run, outcome: ExposeOutcome | None, opening: ShutterRecord | None) -> float | None:
    if outcome is not None and outcome.opened_utc:
        return run.at_s(datetime.fromisoformat(outcome.opened_utc))
    left = run.left
    if opening is None or left is None or not left.is_of(run.clock):
        return None
    return to_s(opening.open_called_ns)


def _answered_s(outcome: ExposeOutcome | None, opening: ShutterRecord | None) -> float:
    """Return how long the body took to answer the command that opens [s]; 0 where that is not known."""
    said = outcome if outcome is not None and outcome.opened_utc else opening
    if said is None or said.open_called_ns is None or said.open_returned_ns is None:
        return 0.0
    return to_s(said.open_returned_ns - said.open_called_ns)


def _write_outcome(run: Run, intent: ExposeIntent, *, home: bool) -> None:
    """Write down how an exposure ended whose end no run saw: by the stamps left, and by whether its file is there."""
    opening = _opening(run, intent.frame)
    outcome: FrameOutcome = "made" if home else "lost"
    note = "The run ended while this frame was being made."
    if opening is None:
        record_outcome(run, intent, outcome, None, None, f"{note} Nothing more is known of how long it was open.")
        return
    uncertain = opening.closed_by == "lost"
    if uncertain:
        note = f"{note} {open_between(opening)[0].upper()}{open_between(opening)[1:]}."
    elif opening.way == "held":
        note = f"{note} The camera process closed the shutter by itself after {opening.held_s:.3f} s."
    held_s = None if uncertain or opening.way == "timed" else opening.held_s
    record_outcome(run, intent, outcome, held_s, opening, note)
