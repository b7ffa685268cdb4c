"""The one union of records: a frozen record per thing that was asked, answered, done or seen, told once.

A record is *kept* in the journal, *shown* to the faces, or both; its bases say which. Records are only ever appended.
An act on the body has two: its intent, told before, and its outcome, told after; an intent without an outcome is what
a resumed run must look into. Numbers are exact values with their unit in the name; `None` means "not known". Frames,
rungs and ladders are counted from 1; `frame` runs through the outing. Moments (`_ns`) are of the run's clock; no
countdown ticks: a record says when the shutter closes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar, Literal

from tether.journal.planned import PlannedLadder
from tether.journal.readings import FrameReadings, HistogramSaid

FrameKind = Literal["base", "proof", "rung", "dark", "by hand"]
FrameOutcome = Literal["made", "made, differs", "closed early", "dropped", "failed", "lost"]
#: How a frame went that was exposed: its file is expected.
EXPOSED: tuple[FrameOutcome, ...] = ("made", "made, differs", "closed early")
RungOutcome = Literal["done", "done, differs", "done in part", "skipped", "left out", "failed", "stopped", "dropped"]
LadderOutcome = Literal["done", "done in part", "stopped after a frame", "closed and kept", "dropped", "failed"]
#: Why a ladder begins with filters on.
LEFT_ON = "the ladder before left it there"
TurnState = Literal[
    "asked", "answered", "answered beforehand", "answered for me", "not done", "nobody answered", "taken back"
]
#: How a turn stands that was answered.
ANSWERED: tuple[TurnState, ...] = ("answered", "answered beforehand", "answered for me")
RegionsSource = Literal["given", "confirmed", "as proposed", "proposed", "refused"]
RegionsSaid = Literal["asked", "right", "wrong"]
State = Literal[
    "ready",
    "your turn",
    "settling",
    "setting",
    "waiting for your key",
    "opening",
    "open",
    "fetching",
    "paused",
    "in trouble",
    "ended",
]


@dataclass(frozen=True, kw_only=True)
class Kept:
    """A record of the journal; `VERSION` rises with the shape of its type, and `tether.journal.codec` reads all."""

    VERSION: ClassVar[int] = 1


@dataclass(frozen=True, kw_only=True)
class Begins(Kept):
    """A kept record of something that begins: where it can't be written, nothing is to be begun."""


@dataclass(frozen=True, kw_only=True)
class Shown:
    """A record that faces are shown: nothing in it may be private (places, serial numbers, what else is on a card)."""


@dataclass(frozen=True, kw_only=True)
class Applied:
    """Settings as exact numbers and as the labels that carry them; `time_s` is None on bulb."""

    time_s: float | None = None
    time_label: str | None = None
    aperture: float | None = None
    aperture_label: str | None = None
    iso: float | None = None
    iso_label: str | None = None


@dataclass(frozen=True, kw_only=True)
class CameraSeen:
    """The identity that a body gave; empty texts where it gave none."""

    model: str
    serial: str
    firmware: str
    lens: str
    simulated: bool


@dataclass(frozen=True, kw_only=True)
class BodyFileUsed:
    """A body file, and how it was tried on hardware; None: not."""

    name: str
    tried: str | None


@dataclass(frozen=True, kw_only=True)
class RunStarted(Begins):
    """A run began, on which camera and by which body file."""

    version: str
    simulated: bool
    pace: str
    camera: CameraSeen
    body_file: BodyFileUsed


@dataclass(frozen=True, kw_only=True)
class LadderStarted(Begins):
    """A ladder began: the plan's text as it stood and the ladder made from it."""

    VERSION: ClassVar[int] = 2

    ladder: int
    title: str
    plan_text: str
    planned: PlannedLadder


@dataclass(frozen=True, kw_only=True)
class ApplyIntent(Begins):
    """The settings about to be sent for a frame, which has its number only once it is exposed."""

    frame: int
    asked: Applied
    rung: int | None = None


@dataclass(frozen=True, kw_only=True)
class ApplyOutcome(Kept):
    """What the body read back, or why it did not take the settings."""

    frame: int
    read_back: Applied | None
    problem: str | None = None


@dataclass(frozen=True, kw_only=True)
class ExposeIntent(Begins):
    """A frame about to be exposed: `planned` by the ladder, `asked` of the body.

    `open_s` is how long it should gather light (`wanted_s` in code; between our commands lies `command_s`, and what was
    gathered by those is `gathered_s`).
    """

    frame: int
    ladder: int
    rung: int | None
    kind: FrameKind
    way: str
    planned: Applied
    asked: Applied
    open_s: float
    filters: list[str] = field(default_factory=list)
    filter_stops: float = 0.0


@dataclass(frozen=True, kw_only=True)
class ExposeOutcome(Kept, Shown):
    """How the exposure went; what is learned later is told anew. The UTC labels are for reading only.

    `held_s` is between our commands, None where the body timed it. `body_said_s` is how long the body itself counted
    that it was open, where it counts.
    """

    VERSION: ClassVar[int] = 2

    frame: int
    outcome: FrameOutcome
    held_s: float | None
    realtime: bool | None
    closed_by: str | None
    open_called_ns: int | None
    open_returned_ns: int | None
    close_called_ns: int | None
    close_returned_ns: int | None
    opened_utc: str | None
    closed_utc: str | None
    rung: int | None = None
    kind: FrameKind | None = None
    note: str | None = None
    body_said_s: float | None = None


@dataclass(frozen=True, kw_only=True)
class FetchIntent(Begins):
    """A file about to be brought home; frame None: not matched to a frame of ours."""

    frame: int | None
    folder: str
    name: str


@dataclass(frozen=True, kw_only=True)
class FetchOutcome(Kept, Shown):
    """A file that is home and checked (path relative to the outing), or why it is not."""

    frame: int | None
    card_name: str
    name: str | None
    size: int | None
    sha256: str | None
    preview: str | None = None
    problem: str | None = None


@dataclass(frozen=True, kw_only=True)
class CopyOutcome(Kept, Shown):
    """A file whose second copy is there and the same (path relative to the outing), or why it is not.

    `copied` of `home` raw files had one by then; `apart` is whether it is on another disk than the outing.
    """

    name: str
    copied: int
    home: int
    apart: bool = False
    problem: str | None = None


@dataclass(frozen=True, kw_only=True)
class ExifRead(Kept, Shown):
    """What the frame itself says it was taken with; `differs` names in sentences what is not as asked.

    `rounded_s` is how far its time is rounded [s]; None: not known.
    """

    frame: int
    exif: Applied
    taken_at: str | None
    differs: list[str] = field(default_factory=list)
    rounded_s: float | None = None


@dataclass(frozen=True, kw_only=True)
class FrameRead(Kept, Shown):
    """What a frame's pixels say, as far as they could be read; `problem` tells in sentences what could not.

    `histogram` is that of the water where it is known, else of the whole picture.
    """

    VERSION: ClassVar[int] = 2
    frame: int
    readings: FrameReadings | None
    problem: str | None = None
    histogram: HistogramSaid | None = None


@dataclass(frozen=True, kw_only=True)
class RegionsSet(Kept):
    """What is water and what is rock in the frames of a ladder, by cells (`tether.frames.regions`).

    `source`: "given" in the plan, "as proposed" by the plan's leave, or "proposed" and not looked at yet; "confirmed"
    or "refused" by the person. What is told last counts; frames are read by all but those that were refused.
    """

    ladder: int
    source: RegionsSource
    cells: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class RegionsShown(Shown):
    """Regions that were proposed: a picture of them, as its path in the outing, and how large they are.

    Nothing waits for what the person says of them. `picture` is None where none could be drawn.
    """

    picture: str | None
    found: str
    state: RegionsSaid


@dataclass(frozen=True, kw_only=True)
class CardListed(Kept):
    """What of the files on a card is no new frame (folder and name), as a ladder begins or the card is changed."""

    ladder: int
    files: list[list[str]]


@dataclass(frozen=True, kw_only=True)
class Turn(Kept, Shown):
    """Something the person has to do, before a rung (None: not before any), and how it was answered.

    `fitted` names what is on the lens afterwards, nearest first; None: it was not about filters. `void_from` is, where
    it was taken back, the first frame made after it: that and those after it until now do not count. `otherwise` says
    what comes of leaving it out; empty: nothing is known of that. `light_stops_per_min` is how the light went when it
    was asked, by measured frames: negative where it falls; None: not measured. `light_by_sun`: frames have not told
    how it goes by now, the sun's course does.
    """

    VERSION: ClassVar[int] = 3

    ladder: int
    rung: int | None
    what: str
    reason: str
    state: TurnState
    fitted: list[str] | None = None
    void_from: int | None = None
    otherwise: str = ""
    light_stops_per_min: float | None = None
    light_by_sun: bool = False


@dataclass(frozen=True, kw_only=True)
class Steered(Kept, Shown):
    """The person steered: the verb, and what came of it."""

    verb: str
    effect: str


@dataclass(frozen=True, kw_only=True)
class RungEnded(Kept, Shown):
    """A rung is over, and how."""

    ladder: int
    rung: int
    outcome: RungOutcome
    note: str | None = None


@dataclass(frozen=True, kw_only=True)
class LadderEnded(Kept, Shown):
    """A ladder is over, and how; `trouble` is the kind of error that a failed one ended in."""

    VERSION: ClassVar[int] = 2
    ladder: int
    outcome: LadderOutcome
    note: str | None = None
    trouble: str | None = None


@dataclass(frozen=True, kw_only=True)
class RunFailed(Kept, Shown):
    """A run ended in trouble of a kind before it could work its ladder to an end."""

    ladder: int
    text: str
    trouble: str


@dataclass(frozen=True, kw_only=True)
class Said(Kept, Shown):
    """A sentence for the person, of a frame or a rung where it is of one; `named` is whether it names its frame."""

    about: Literal["trouble", "note"]
    text: str
    frame: int | None = None
    rung: int | None = None
    named: bool = True


@dataclass(frozen=True, kw_only=True)
class Noted(Kept):
    """Anything else worth keeping, in a sentence for the log; of a check also what was looked at, and its verdict."""

    about: Literal["caution", "trouble", "check", "note"]
    text: str
    frame: int | None = None
    rung: int | None = None
    what: str | None = None
    verdict: Literal["ok", "note", "stop"] | None = None


@dataclass(frozen=True, kw_only=True)
class Mentioned(Shown):
    """A sentence for the moment: the journal has it in another record, or has no need of it."""

    about: Literal["trouble", "note"]
    text: str


@dataclass(frozen=True, kw_only=True)
class StateChanged(Shown):
    """The run went from one state to another."""

    before: State
    state: State
    at_ns: int


@dataclass(frozen=True, kw_only=True)
class FrameSoFar:
    """What is known of a frame; `name` None: not home. A file that belongs to no frame of ours has `frame` None.

    `closed_utc` is for reading only: it says how old it is. `read`: whether it was read, or could not be.
    """

    frame: int | None
    rung: int | None = None
    kind: str | None = None
    outcome: str | None = None
    held_s: float | None = None
    name: str | None = None
    differs: tuple[str, ...] = ()
    says: FrameReadings | None = None
    closed_utc: str | None = None
    read: bool = False


@dataclass(frozen=True, kw_only=True)
class LadderBegun(Shown):
    """The ladder as planned (as `ladder --json` gives it); of one that is resumed, what is over: rungs and frames."""

    planned: PlannedLadder
    rungs: tuple[RungEnded, ...] = ()
    frames: tuple[FrameSoFar, ...] = ()


@dataclass(frozen=True, kw_only=True)
class LadderChanged(Shown):
    """The ladder is another than it was: a filter of it is not there, or that was taken back.

    `task` is what the person agreed to, which can be taken back while the rung in hand is worked; None: nothing.
    """

    planned: PlannedLadder
    task: Turn | None = None


@dataclass(frozen=True, kw_only=True)
class RungBegun(Shown):
    """A rung is taken in hand."""

    rung: int
    label: str
    frames: int


@dataclass(frozen=True, kw_only=True)
class FrameOpened(Shown):
    """The shutter is open; `closes_at_ns` is when it will be told to close, or when the body will be done."""

    frame: int
    rung: int | None
    kind: str
    way: str
    open_s: float
    at_ns: int
    closes_at_ns: int


@dataclass(frozen=True, kw_only=True)
class CloseMoved(Shown):
    """The open shutter will close at another moment than said before."""

    frame: int
    closes_at_ns: int


@dataclass(frozen=True, kw_only=True)
class SuppliesSeen(Kept, Shown):
    """What is left to work with, as seen between two rungs; None is not known.

    `battery` is a share of 1, `card_frames` and `disk_frames` are frames that card and disk still hold, `to_come` those
    that the ladder still makes, `battery_low` is whether the camera calls its battery low where it tells no share.
    """

    battery: float | None
    card_frames: int | None
    temperature_c: float | None
    disk_bytes: int | None
    disk_frames: int | None
    to_come: int
    battery_low: bool | None = None


@dataclass(frozen=True, kw_only=True)
class WishesChanged(Shown):
    """What the person said and is still to be done, in words; empty: nothing."""

    pending: list[str] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class KeyTurn(Shown):
    """The person's key is waited for, for one frame of a rung; or no longer, and why."""

    what: ClassVar[str] = "press when the moment comes"
    reason: ClassVar[str] = "this rung is taken on your key"
    otherwise: ClassVar[str] = "what is left of this rung is skipped"
    light_stops_per_min: ClassVar[float | None] = None
    light_by_sun: ClassVar[bool] = False
    rung: int
    state: Literal["asked", "answered", "left"]


Record = (
    RunStarted
    | LadderStarted
    | ApplyIntent
    | ApplyOutcome
    | ExposeIntent
    | ExposeOutcome
    | FetchIntent
    | FetchOutcome
    | CopyOutcome
    | ExifRead
    | FrameRead
    | RegionsSet
    | RegionsShown
    | CardListed
    | Turn
    | Steered
    | RungEnded
    | LadderEnded
    | RunFailed
    | Said
    | Noted
    | Mentioned
    | StateChanged
    | LadderBegun
    | LadderChanged
    | RungBegun
    | FrameOpened
    | CloseMoved
    | SuppliesSeen
    | WishesChanged
    | KeyTurn
)
