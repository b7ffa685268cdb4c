"""How a ladder, its rungs and its run ended, folded from records: the last word counts."""

from __future__ import annotations

from collections.abc import Iterable

from tether.journal.codec import Entry
from tether.journal.records import LadderEnded, RunFailed, RungEnded


def ladder_end(entries: Iterable[Entry], ladder: int, *, after_seq: int = 0) -> LadderEnded | None:
    """Return how a ladder ended; an end that was written down up to record `after_seq` does not count."""
    return _last((LadderEnded,), entries, ladder, after_seq)


def run_end(entries: Iterable[Entry], ladder: int, *, after_seq: int = 0) -> LadderEnded | None:
    """Return how a run of a ladder ended: as :func:`ladder_end` does, or in trouble before that."""
    return _last((LadderEnded, RunFailed), entries, ladder, after_seq)


def _last(kinds: tuple[type, ...], entries: Iterable[Entry], ladder: int, after_seq: int) -> LadderEnded | None:
    found = None
    for entry in entries:
        record = entry.record
        counts = isinstance(record, kinds) and (entry.seq or 0) > after_seq
        if counts and isinstance(record, LadderEnded | RunFailed) and record.ladder == ladder:
            found = as_end(record)
    return found


def as_end(ended: LadderEnded | RunFailed) -> LadderEnded:
    """Return how a ladder ended; a run's failing is an end to it too."""
    if isinstance(ended, LadderEnded):
        return ended
    return LadderEnded(ladder=ended.ladder, outcome="failed", note=ended.text, trouble=ended.trouble)


def rungs_ended(entries: Iterable[Entry], ladder: int) -> dict[int, RungEnded]:
    """Return how the rungs of a ladder ended, by number."""
    records = (entry.record for entry in entries)
    return {one.rung: one for one in records if isinstance(one, RungEnded) and one.ladder == ladder}
