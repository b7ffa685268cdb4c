"""What resuming needs: what records tell of a ladder that is taken up again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime

from tether.exposure.agreement import times_agree
from tether.journal.codec import Entry
from tether.journal.ended import rungs_ended, told_within
from tether.journal.records import (
    ANSWERED,
    EXPOSED,
    LEFT_ON,
    CardListed,
    CopyOutcome,
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
    RunStarted,
    Steered,
    Turn,
)
from tether.journal.story import SETTLED

#: A frame whose opening the body answered later than this may have opened as late: it tells nothing of its clock [s].
ANSWERED_LATE_S = 3.0

#: The word that closes what is open only because the run is to end: a machine that is switched off says it too.
_ENDS_OPEN = "stop now and keep"


@dataclass(frozen=True, kw_only=True)
class LadderHistory:
    """What an earlier run of this ladder left.

    Attributes
    ----------
    done
        Rungs that are not worked again.
    made
        How many good frames each rung has; one that was cut short because the run had to end is kept, and is none.
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
    void
        Frames that do not count: the task before them was taken back.
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
    void: frozenset[int]
    bases: int
    regions: RegionsSet | None


def ladder_history(entries: Iterable[Entry], number: int) -> LadderHistory | None:
    """Read from the journal what is known of a ladder; None if it was never begun."""
    entries = tuple(entries)
    known = _KnownLadder(number)
    for entry in entries:
        known.hear(entry.record)
    return known.before(rungs_ended(entries, number)) if known.begun else None


class _KnownLadder:
    """What records tell of a ladder, as far as they were heard: the last word on each exposure counts."""

    def __init__(self, ladder: int) -> None:
        self.begun = False
        self._ladder = ladder
        self._intents: dict[int, ExposeIntent] = {}
        self._outcomes: dict[int, ExposeOutcome] = {}
        self._names: dict[int, str] = {}
        self._read: set[int] = set()
        self._exif: dict[int, ExifRead] = {}
        self._turns: list[Turn] = []
        self._void: set[int] = set()
        self._stopping = False
        self._cut_short: set[int] = set()
        self._regions: RegionsSet | None = None

    def hear(self, record: Record) -> None:
        """Take in one record."""
        match record:
            case LadderStarted() | RegionsSet() | Turn() | ExposeIntent() if record.ladder != self._ladder:
                return
            case LadderStarted():
                self.begun = True
            case ExposeIntent():
                self._intents[record.frame] = record
            case RunStarted():
                self._stopping = False
            case Steered():
                self._stopping = self._stopping or record.verb == _ENDS_OPEN
            case ExposeOutcome():
                self._outcomes[record.frame] = record
                if self._stopping and record.outcome == "closed early" and not self._is_long_enough(record):
                    self._cut_short.add(record.frame)
            case FetchOutcome(frame=int() as frame, name=str() as name):
                self._names.setdefault(frame, name)  # those beside it come after it
            case FrameRead():
                self._read.add(record.frame)
            case ExifRead():
                self._exif[record.frame] = record
            case Turn() if record.state in ANSWERED:
                self._turns.append(record)
            case Turn(state="taken back", void_from=int() as first):
                self._turns = [one for one in self._turns if one.rung != record.rung or one.reason == LEFT_ON]
                self._void |= {frame for frame in self._intents if frame >= first}
            case RegionsSet():
                self._regions = record

    def before(self, rungs: dict[int, RungEnded]) -> LadderHistory:
        """Return what was heard; `rungs` is how those ended that did."""
        good = [intent for intent in self._intents.values() if self._is_good(intent.frame)]
        fitted = [turn.fitted for turn in self._turns if turn.fitted is not None]
        owe_nothing = self._names.keys() | {one.frame for one in self._outcomes.values() if one.outcome == "dropped"}
        return LadderHistory(
            done=frozenset(rung for rung, ended in rungs.items() if ended.outcome in SETTLED),
            made=dict(Counter(one.rung for one in good if one.kind == "rung" and one.rung is not None)),
            proofs=frozenset(one.rung for one in good if one.kind == "proof" and one.rung is not None and one.filters),
            darks=sum(one.kind == "dark" for one in good),
            turns=frozenset((turn.rung, turn.what) for turn in self._turns),
            fitted=tuple(fitted[-1] if fitted else ()),
            unfinished=tuple(one for frame, one in self._intents.items() if frame not in self._outcomes),
            fileless=tuple(one for frame, one in self._intents.items() if frame not in owe_nothing),
            outcomes=self._outcomes,
            clock=tuple(self._clock()),
            writes_fractions=any(self._is_fraction(read) for read in self._exif.values()),
            unread=tuple(
                (one, self._names[frame])
                for frame, one in self._intents.items()
                if frame in self._names and frame not in self._read and one.kind != "dark"
            ),
            void=frozenset(self._void),
            bases=sum(one.kind == "base" for one in good),
            regions=self._regions,
        )

    def _is_good(self, frame: int) -> bool:
        made = frame in self._outcomes and self._outcomes[frame].outcome in EXPOSED
        counts = frame not in self._void and frame not in self._cut_short
        return made and counts and frame in self._names and not (frame in self._exif and self._exif[frame].differs)

    def _is_long_enough(self, outcome: ExposeOutcome) -> bool:
        intent = self._intents.get(outcome.frame)
        return intent is not None and outcome.held_s is not None and times_agree(outcome.held_s, intent.open_s)

    def _clock(self) -> Iterable[tuple[float, float]]:
        for read in self._exif.values():
            outcome = self._outcomes.get(read.frame)
            if read.taken_at and not read.differs and outcome and outcome.opened_utc and not _answered_late(outcome):
                taken_at = datetime.fromisoformat(read.taken_at)
                taken_s = (taken_at if taken_at.tzinfo else taken_at.replace(tzinfo=UTC)).timestamp()
                yield datetime.fromisoformat(outcome.opened_utc).timestamp(), taken_s

    def _is_fraction(self, read: ExifRead) -> bool:
        intent, time_s = self._intents.get(read.frame), read.exif.time_s
        return intent is not None and intent.way == "held" and time_s is not None and time_s != round(time_s)


def _answered_late(outcome: ExposeOutcome) -> bool:
    """Say whether a frame may have opened so much after its command that it does not tell the body's clock."""
    called_ns, returned_ns = outcome.open_called_ns, outcome.open_returned_ns
    return called_ns is not None and returned_ns is not None and returned_ns - called_ns > ANSWERED_LATE_S * 1e9


def known_files(entries: Iterable[Entry]) -> set[tuple[str, str]]:
    """Return the files (folder, name) known to be no new frames: on the card as it was listed last, or home since.

    On another card, or an emptied one, many bodies begin to number anew: the same name is another frame then.
    """
    known: set[tuple[str, str]] = set()
    coming: set[tuple[str, str]] = set()
    for entry in entries:
        match entry.record:
            case CardListed(files=files):
                known, coming = {(folder, name) for folder, name in files}, set()
            case FetchIntent(folder=folder, name=name):
                coming.add((folder, name))
            case FetchOutcome(name=str(), card_name=home):
                known |= {place for place in coming if place[1] == home}
    return known


def was_apart(entries: Iterable[Entry], ladder: int) -> bool:
    """Say whether the second copy of a ladder's frames, as far as there is one, is on another disk than the outing."""
    return any(isinstance(record, CopyOutcome) and record.apart for record in told_within(entries, ladder))
