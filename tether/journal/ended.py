"""What was told of a ladder, and how it, its rungs and its run ended: the last word counts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from tether.journal.codec import Entry
from tether.journal.records import LadderEnded, LadderStarted, Record, RunFailed, RungEnded


def told_within(entries: Iterable[Entry], ladder: int) -> Iterator[Record]:
    """Yield what was told from the beginning of a ladder on, until another was begun."""
    of_it = False
    for entry in entries:
        if isinstance(entry.record, LadderStarted):
            of_it = entry.record.ladder == ladder
        elif of_it:
            yield entry.record


def ladder_end(entries: Iterable[Entry], ladder: int, *, after_seq: int = 0) -> LadderEnded | None:
    """Return how a ladder ended; an end that was written down up to record `after_seq` does not count."""
    return run_end((one for one in entries if not isinstance(one.record, RunFailed)), ladder, after_seq=after_seq)


def run_end(entries: Iterable[Entry], ladder: int, *, after_seq: int = 0) -> LadderEnded | None:
    """Return how a run of a ladder ended: as :func:`ladder_end` does, or in trouble before that."""
    found = None
    for entry in entries:
        record, counts = entry.record, (entry.seq or 0) > after_seq
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
