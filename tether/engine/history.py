"""Take a ladder up again: what the journal knows of it, and how what was left open is brought to an end."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from tether.journal.codec import Entry
from tether.journal.records import (
    CardListed,
    ExifRead,
    ExposeIntent,
    ExposeOutcome,
    FetchIntent,
    FetchOutcome,
    FrameRead,
    LadderStarted,
    Record,
    RegionsSet,
    RungEnded,
    Turn,
)
from tether.journal.story import SETTLED
from tether.shot.matching import seconds_of

_ANSWERED = ("answered", "answered beforehand", "answered for me")
_MADE = ("made", "made, differs", "closed early")


@dataclass(frozen=True, kw_only=True)
class Before:
    """What an earlier run of this ladder left.

    Attributes
    ----------
    done
        Rungs that are not worked again.
    made
        How many good frames each rung has.
    proofs
        Rungs whose proof was taken.
    darks
        How many dark frames were taken.
    turns
        Turns that were answered, as (rung, what).
    fitted
        Names of the filters on the lens, nearest first, as far as answered turns tell.
    unfinished
        Exposures with an intent and no outcome, oldest first.
    fileless
        Exposures that made a frame whose file never came home, oldest first; the unfinished ones among them.
    outcomes
        How the exposures ended of which that is known, by frame.
    clock
        What frames told of the body's clock: pairs (opened by our clock, taken by the body's), seconds since 1970.
    writes_fractions
        Whether the body wrote a fraction of a second into the Exif of a held frame.
    unread
        Exposures whose file came home and was not read, each with its path relative to the outing, oldest first.
    bases
        How many base frames were taken.
    regions
        The regions as they were last set; None: they were not.
    """

    done: frozenset[int]
    made: dict[int, int]
    proofs: frozenset[int]
    darks: int
    turns: frozenset[tuple[int | None, str]]
    fitted: tuple[str, ...]
    unfinished: tuple[ExposeIntent, ...]
    fileless: tuple[ExposeIntent, ...]
    outcomes: dict[int, ExposeOutcome]
    clock: tuple[tuple[float, float], ...]
    writes_fractions: bool
    unread: tuple[tuple[ExposeIntent, str], ...]
    bases: int
    regions: RegionsSet | None


def read_before(entries: Iterable[Entry], number: int) -> Before | None:
    """Read from the journal what is known of a ladder; None if it was never begun."""
    records = [entry.record for entry in entries]
    if not any(isinstance(one, LadderStarted) and one.ladder == number for one in records):
        return None
    intents = {one.frame: one for one in records if isinstance(one, ExposeIntent) and one.ladder == number}
    outcomes = {one.frame: one for one in records if isinstance(one, ExposeOutcome)}
    home = {one.frame for one in records if isinstance(one, FetchOutcome) and one.name}
    names: dict[int, str] = {}
    for one in records:
        if isinstance(one, FetchOutcome) and one.frame is not None and one.name:
            names.setdefault(one.frame, one.name)
    read = {one.frame for one in records if isinstance(one, FrameRead)}
    wrong = {one.frame for one in records if isinstance(one, ExifRead) and one.differs}
    good = [
        one
        for frame, one in intents.items()
        if frame in outcomes and outcomes[frame].outcome in _MADE and frame in home and frame not in wrong
    ]
    ended = {one.rung: one.outcome for one in records if isinstance(one, RungEnded) and one.ladder == number}
    turns = [one for one in records if isinstance(one, Turn) and one.ladder == number and one.state in _ANSWERED]
    return Before(
        done=frozenset(rung for rung, outcome in ended.items() if outcome in SETTLED),
        made=dict(Counter(one.rung for one in good if one.kind == "rung" and one.rung is not None)),
        proofs=frozenset(one.rung for one in good if one.kind == "proof" and one.rung is not None),
        darks=sum(one.kind == "dark" for one in good),
        turns=frozenset((one.rung, one.what) for one in turns),
        fitted=tuple(next((one.fitted for one in reversed(turns) if one.fitted is not None), ())),
        unfinished=tuple(one for frame, one in intents.items() if frame not in outcomes),
        fileless=tuple(
            one
            for frame, one in intents.items()
            if frame not in home and (frame not in outcomes or outcomes[frame].outcome != "dropped")
        ),
        outcomes=outcomes,
        clock=_clock_of(outcomes, records),
        writes_fractions=any(_is_fraction(intents.get(one.frame), one) for one in records if isinstance(one, ExifRead)),
        unread=tuple(
            (one, names[frame])
            for frame, one in intents.items()
            if frame in names and frame not in read and one.kind != "dark"
        ),
        bases=sum(one.kind == "base" for one in good),
        regions=next((one for one in reversed(records) if isinstance(one, RegionsSet) and one.ladder == number), None),
    )


def _clock_of(outcomes: dict[int, ExposeOutcome], records: Iterable[Record]) -> tuple[tuple[float, float], ...]:
    pairs = []
    for one in records:
        if isinstance(one, ExifRead) and one.taken_at and one.frame in outcomes:
            opened, taken_s = outcomes[one.frame].opened_utc, seconds_of(datetime.fromisoformat(one.taken_at))
            if opened and taken_s is not None:
                pairs.append((datetime.fromisoformat(opened).timestamp(), taken_s))
    return tuple(pairs)


def _is_fraction(intent: ExposeIntent | None, read: ExifRead) -> bool:
    time_s = read.exif.time_s
    return intent is not None and intent.way == "held" and time_s is not None and time_s != round(time_s)


def seen_before(entries: Iterable[Entry]) -> set[tuple[str, str]]:
    """Return the files (folder, name) known to be no new frames: on the card at the start, or home already."""
    records = [entry.record for entry in entries]
    home = {one.card_name for one in records if isinstance(one, FetchOutcome) and one.name}
    fetched = {(one.folder, one.name) for one in records if isinstance(one, FetchIntent) and one.name in home}
    listed = {(folder, name) for one in records if isinstance(one, CardListed) for folder, name in one.files}
    return fetched | listed
