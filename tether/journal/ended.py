"""How a ladder, its rungs and its run ended, folded from records: the last word counts."""

from __future__ import annotations

from collections.abc import Iterable

from tether.journal.codec import Entry
from tether.journal.records import LadderEnded, RunFailed, RungEnded


def ladder_end(entries: Iterable[Entry], ladder: int, *, after_seq: int = 0) -> LadderEnded | None:
    """Return how a ladder ended; an end that was written down up to record `after_seq` does not count."""
    found = None
    for entry in _since(entries, after_seq):
        if isinstance(entry.record, LadderEnded) and entry.record.ladder == ladder:
            found = entry.record
    return found


def run_end(entries: Iterable[Entry], ladder: int, *, after_seq: int = 0) -> LadderEnded | None:
    """Return how a run of a ladder ended: as :func:`ladder_end` does, or in trouble before that."""
    found = None
    for entry in _since(entries, after_seq):
        match entry.record:
            case LadderEnded() as ended if ended.ladder == ladder:
                found = ended
            case RunFailed() as failed if failed.ladder == ladder:
                found = as_end(failed)
    return found


def as_end(failed: RunFailed) -> LadderEnded:
    """Return the end that a run's failing is to its ladder."""
    return LadderEnded(ladder=failed.ladder, outcome="failed", note=failed.text, trouble=failed.trouble)


def rungs_ended(entries: Iterable[Entry], ladder: int) -> dict[int, RungEnded]:
    """Return how the rungs of a ladder ended, by number."""
    records = (entry.record for entry in entries)
    return {one.rung: one for one in records if isinstance(one, RungEnded) and one.ladder == ladder}


def _since(entries: Iterable[Entry], after_seq: int) -> Iterable[Entry]:
    return (entry for entry in entries if entry.seq is not None and entry.seq > after_seq)
