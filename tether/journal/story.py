"""What an outing's journal tells, as frozen views: runs, ladders, frames. `tether.journal.telling` makes them.

None means "not known" throughout.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from tether.exposure.agreement import believed_open_s, rounded_to_s
from tether.exposure.stops import aperture_stops, iso_stops, time_stops
from tether.journal.planned import PlannedLadder
from tether.journal.readings import FrameReadings, HistogramSaid
from tether.journal.records import (
    Applied,
    ApplyIntent,
    BodyFileUsed,
    CameraSeen,
    ExposeIntent,
    FetchIntent,
    FrameKind,
    RegionsSet,
    RungEnded,
    RungOutcome,
    TurnState,
)

#: Outcomes of things whose end the journal does not hold.
CUT_SHORT = "unknown: the run ended before it was known"
STILL_RUNNING = "not known yet: the run is still active"

#: Rungs that were made as asked, or nearly; and those that a run which goes on need not work again, the others are.
DONE: tuple[RungOutcome, ...] = ("done", "done, differs")
SETTLED: tuple[RungOutcome, ...] = (*DONE, "skipped")
Intent = ApplyIntent | ExposeIntent | FetchIntent


@dataclass(frozen=True, kw_only=True)
class OpenTime:
    """How long the shutter was open [s]: asked, between our commands, by the body's own count, by Exif, by light."""

    asked: float | None = None
    held: float | None = None
    body: float | None = None
    exif: float | None = None
    light: float | None = None


@dataclass(frozen=True, kw_only=True)
class FileStory:
    """A file that is home: its path relative to the outing, and that of its preview."""

    name: str
    card_name: str
    size: int | None
    sha256: str | None
    preview: str | None


@dataclass(frozen=True, kw_only=True)
class FrameStory:
    """One frame: what was planned, asked, read back and really done.

    Attributes
    ----------
    frame, ladder, rung
        Running number in the outing, its ladder, its rung (None: of no rung).
    outcome
        How it went, in plain words; says so where that is not known.
    planned, asked, read_back, exif
        Settings the ladder wants, sent to the body, read back from it, and written by it into the frame.
    exif_rounded_s
        How far its Exif time is rounded [s]; None: not known.
    exif_differs
        Whether its Exif says that it was not made as asked.
    void
        Whether it does not count: the task before it was taken back.
    open_bounds_s
        The shortest and longest that it can have been open by when our commands went out and were answered [s, s];
        None where the body timed it, or where that is not known.
    hold_realtime
        Whether real-time scheduling was in force; None where it does not matter.
    readings
        What the pixels say.
    histogram
        The raw histogram, of the water where that is known.
    """

    frame: int
    ladder: int
    rung: int | None
    kind: FrameKind
    way: str
    outcome: str
    planned: Applied
    asked: Applied
    open_s: OpenTime
    filters: tuple[str, ...]
    filter_stops: float
    read_back: Applied | None = None
    exif: Applied | None = None
    exif_rounded_s: float | None = None
    exif_differs: bool = False
    void: bool = False
    open_bounds_s: tuple[float, float] | None = None
    hold_realtime: bool | None = None
    closed_by: str | None = None
    opened_utc: str | None = None
    closed_utc: str | None = None
    files: tuple[FileStory, ...] = ()
    readings: FrameReadings | None = None
    histogram: HistogramSaid | None = None
    notes: tuple[str, ...] = ()

    @property
    def preview(self) -> str | None:
        """The preview that came with it, below the outing; None: there is none."""
        return next((file.preview for file in self.files if file.preview), None)

    @property
    def as_asked(self) -> bool:
        """Whether it was made as asked, through what it was meant to be made through, as far as is known."""
        return not self.exif_differs and not self.void

    @property
    def believed_open_s(self) -> float | None:
        """Return the open time to believe [s].

        By light where that is known. A held frame: between our commands, unless the Exif disagrees. A timed one:
        Exif, then what was read back. None where nothing shows that it was open.
        """
        known = self.open_s
        if known.light is not None:
            return known.light
        open_s = believed_open_s(known.exif, known.held, rounded_s=self._exif_rounded_s)
        if open_s is not None:
            return open_s
        exposed = self.way == "timed" and self.outcome.startswith("made")
        return self.read_back.time_s if exposed and self.read_back is not None else None

    @property
    def _exif_rounded_s(self) -> float:
        """How far the Exif time is rounded [s]; journals of earlier releases do not tell, then by how it is written."""
        if self.exif_rounded_s is not None or self.open_s.exif is None:
            return self.exif_rounded_s or 0.0
        return rounded_to_s(self.open_s.exif, writes_fractions=False)

    @property
    def aperture(self) -> float | None:
        """Return the f-number to believe: Exif, then read-back, then what was sent."""
        return next((at.aperture for at in self._by_trust if at.aperture is not None), None)

    @property
    def iso(self) -> float | None:
        """Return the ISO to believe: Exif, then read-back, then what was sent."""
        return next((at.iso for at in self._by_trust if at.iso is not None), None)

    @property
    def _by_trust(self) -> tuple[Applied, ...]:
        return tuple(at for at in (self.exif, self.read_back, self.asked) if at is not None)

    @property
    def difference_stops(self) -> float | None:
        """Return how much brighter (positive) than planned the frame is by its settings and open time [stops].

        The filters are taken to be those planned. None where something is not known.
        """
        return None if self.differences_stops is None else sum(self.differences_stops)

    @property
    def differences_stops(self) -> tuple[float, float, float] | None:
        """Return the same by time, aperture and ISO."""
        planned, open_s, aperture, iso = self.planned, self.believed_open_s, self.aperture, self.iso
        if not (planned.time_s and planned.aperture and planned.iso and open_s and aperture and iso):
            return None
        return (
            time_stops(open_s, planned.time_s),
            aperture_stops(aperture, planned.aperture),
            iso_stops(iso, planned.iso),
        )


@dataclass(frozen=True, kw_only=True)
class TurnStory:
    """Something the person had to do, and how it was last answered."""

    rung: int | None
    what: str
    reason: str
    state: TurnState
    utc: datetime


@dataclass(frozen=True, kw_only=True)
class SteeringStory:
    """The person steered: the verb, what came of it, when."""

    verb: str
    effect: str
    utc: datetime


@dataclass(frozen=True, kw_only=True)
class NoteStory:
    """Anything else that was kept."""

    about: str
    text: str
    frame: int | None
    rung: int | None
    utc: datetime


@dataclass(frozen=True, kw_only=True)
class LadderStory:
    """One ladder: as it was planned, and all that came of it, in the order it happened.

    `battery` is what share of 1 the body told of it, and when; journals of before do not have it.
    """

    ladder: int
    title: str
    planned: PlannedLadder | None
    plan_text: str
    outcome: str
    note: str | None = None
    frames: tuple[FrameStory, ...] = ()
    rungs: tuple[RungEnded, ...] = ()
    turns: tuple[TurnStory, ...] = ()
    steering: tuple[SteeringStory, ...] = ()
    notes: tuple[NoteStory, ...] = ()
    regions: RegionsSet | None = None
    battery: tuple[tuple[datetime, float], ...] = ()


@dataclass(frozen=True, kw_only=True)
class CheckStory:
    """One thing looked at before a run: what, what it came to, and the sentence about it."""

    what: str
    verdict: Literal["ok", "note", "stop"]
    text: str


@dataclass(frozen=True, kw_only=True)
class RunStory:
    """One run: what it ran on, what was looked at before, and how it came to its end."""

    version: str
    simulated: bool
    pace: str
    camera: CameraSeen
    body_file: BodyFileUsed
    started_utc: datetime
    end: Literal["ended", "broke off", "running"]
    checks: tuple[CheckStory, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Outing:
    """All that an outing's journal tells.

    Attributes
    ----------
    name
        Name of the outing's folder.
    running
        Whether a run was writing the journal while it was read.
    loose_files
        Files that came home and belong to no frame of ours.
    notes
        Notes from before the first ladder.
    open_intents
        What was begun on the body and has no outcome, oldest first.
    next_frame
        The first running number of a frame that was never exposed, counted from 1.
    """

    name: str
    running: bool
    runs: tuple[RunStory, ...]
    ladders: tuple[LadderStory, ...]
    loose_files: tuple[FileStory, ...]
    notes: tuple[NoteStory, ...]
    open_intents: tuple[Intent, ...]
    next_frame: int

    @property
    def simulated(self) -> bool:
        """Tell whether any part was made on the simulated body."""
        return any(run.simulated for run in self.runs)

    def ladder(self, number: int) -> LadderStory | None:
        """Return the ladder of that number; None if it was not begun."""
        return next((one for one in self.ladders if one.ladder == number), None)

    def rungs_done(self, ladder: int) -> frozenset[int]:
        """Return the rungs of a ladder that a resumed run need not work again.

        These are the rungs done or skipped by the person; one that was left out for want of time, done in part, failed,
        stopped or dropped is worked again.
        """
        told = self.ladder(ladder)
        return frozenset(rung.rung for rung in told.rungs if rung.outcome in SETTLED) if told else frozenset()
