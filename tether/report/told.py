"""What became of frames, rungs and ladders, in the words that terminal, desk and phone share."""

from __future__ import annotations

from tether.journal.records import ExposeOutcome, LadderEnded, RungEnded
from tether.wording import measured_time


def of_frame(record: ExposeOutcome) -> str:
    """Say how an exposure ended: ``made, bulb 124.30 s (what is to be said of it)``."""
    held = "" if record.held_s is None else f", bulb {measured_time(record.held_s)}"
    return f"{record.outcome}{held}{_noted(record.note)}"


def of_rung(record: RungEnded) -> str:
    """Say how a rung ended: ``done in part (why)``."""
    return f"{record.outcome}{_noted(record.note)}"


def of_ladder(record: LadderEnded) -> str:
    """Say how a ladder ended, in a sentence, and why in another."""
    return f"The ladder is finished: {record.outcome}." + (f" {record.note}" if record.note else "")


def _noted(note: str | None) -> str:
    return f" ({note})" if note else ""
