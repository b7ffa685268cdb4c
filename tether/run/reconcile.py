"""Bring to an end what an earlier run of a ladder left open: intents without outcome, frames that never came home."""

from __future__ import annotations

from tether.body.hold import open_between
from tether.body.protocol import Opening
from tether.exposure.marks import Mark
from tether.journal.records import (
    ApplyIntent,
    ApplyOutcome,
    ExposeIntent,
    FetchIntent,
    FetchOutcome,
    FrameOutcome,
)
from tether.journal.telling import tell
from tether.run.context import Run
from tether.run.exposing import Exposed, Made, record_outcome
from tether.run.fetching import LATE_S, Fetcher
from tether.run.resume import Before
from tether.run.shots import Shot
from tether.run.trouble import with_care

_UNKNOWN = "the run ended before this was known"


def reconcile(run: Run, fetcher: Fetcher, before: Before) -> None:
    """Say that a ladder is gone on with, and bring what the earlier run left to an end."""
    done = ", ".join(str(rung) for rung in sorted(before.done)) or "none"
    run.say("note", f"This ladder was begun before and is gone on with; rungs that need no more work: {done}.")
    bring_to_end(run, fetcher, before)


def read_again(run: Run, fetcher: Fetcher, before: Before) -> None:
    """Have the frames read that came home when there was no time left to read them."""
    for intent, name in before.unread:
        made = Made(exposed=_exposed(run, before, intent), shot=_shot(intent))
        fetcher.have_read(made, run.folder.path / name)


def bring_to_end(run: Run, fetcher: Fetcher, before: Before) -> None:
    """Look at the card, file what belongs to frames of the earlier run, and write down how each of them ended."""
    _close_intents(run)
    among = [Made(exposed=_exposed(run, before, one), shot=_shot(one)) for one in before.fileless]
    if among:
        with_care(run, lambda: run.camera.new_files(len(among), LATE_S), rung=None)
    files = with_care(run, run.camera.card_files, rung=None)
    new = [file for file in files if (file.folder, file.name) not in run.seen]
    found = fetcher.find(new, among)
    for intent in before.unfinished:
        home = any(made.exposed.frame == intent.frame for made in found)
        _write_outcome(run, intent, home)
    for made in among:
        if made not in found:
            fetcher.missing.append(made)
            text = f"Frame {made.exposed.frame} is not on the card; it is taken again if its rung needs it."
            run.say("note", text, frame=made.exposed.frame, rung=made.shot.rung)


def _close_intents(run: Run) -> None:
    """Settings and fetches that were cut short are simply done again; say that their outcome is not known."""
    for intent in tell(run.journal.entries(), name="", running=False).open_intents():
        if isinstance(intent, ApplyIntent):
            run.record(ApplyOutcome(frame=intent.frame, read_back=None, problem=_UNKNOWN))
        elif isinstance(intent, FetchIntent):
            run.record(
                FetchOutcome(
                    frame=intent.frame, card_name=intent.name, name=None, size=None, sha256=None, problem=_UNKNOWN
                )
            )


def _opening(run: Run, frame: int) -> Opening | None:
    """Return what the camera process before knew of an exposure, from the stamps it left."""
    left = run.left
    if left is None or left.frame != frame:
        return None
    return left.opening(left.open_called_ns)


def _exposed(run: Run, before: Before, intent: ExposeIntent) -> Exposed:
    opening = _opening(run, intent.frame)
    open_s = before.open_s.get(intent.frame, intent.open_s)
    if opening is not None and opening.way == "held" and opening.closed_by != "lost":
        open_s = opening.held_s
    return Exposed(frame=intent.frame, outcome="made", open_s=open_s, problem=None)


def _shot(intent: ExposeIntent) -> Shot:
    asked = intent.asked
    return Shot(
        kind=intent.kind,
        rung=intent.rung,
        way="held" if intent.way == "held" else "timed",
        time_s=asked.time_s or intent.open_s,
        time_label=asked.time_label or "",
        aperture=Mark(label=asked.aperture_label or "", exact=asked.aperture or 1.0),
        iso=Mark(label=asked.iso_label or "", exact=asked.iso or 1.0),
        filters=tuple(intent.filters),
        filter_stops=intent.filter_stops,
    )


def _write_outcome(run: Run, intent: ExposeIntent, home: bool) -> None:
    """Write down how an exposure ended whose end no run saw: by the stamps left, and by whether its file is there."""
    opening = _opening(run, intent.frame)
    outcome: FrameOutcome = "made" if home else "lost"
    note = "The run ended while this frame was being made."
    if opening is None:
        record_outcome(run, intent.frame, outcome, None, None, f"{note} Nothing more is known of how long it was open.")
        return
    uncertain = opening.closed_by == "lost" and opening.way == "held"
    if uncertain:
        note = f"{note} {open_between(opening)[0].upper()}{open_between(opening)[1:]}."
    elif opening.way == "held":
        note = f"{note} The camera process closed the shutter by itself after {opening.held_s:.3f} s."
    held_s = None if uncertain or opening.way == "timed" else opening.held_s
    record_outcome(run, intent.frame, outcome, held_s, opening, note)
