"""What the journal keeps: one frozen record per thing that was asked, answered, done or seen.

Records are only ever appended. An act on the body has two: its intent, written before, and its outcome, written
after; an intent without an outcome is what a resumed run must look into. Numbers are exact values with their unit in
the name; `None` means "not known". Frames, rungs and ladders are counted from 1; `frame` runs through the outing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

FrameKind = Literal["base", "proof", "rung", "dark", "by hand"]
FrameOutcome = Literal["made", "made, differs", "closed early", "dropped", "failed", "lost"]
RungOutcome = Literal["done", "done, differs", "done in part", "skipped", "left out", "failed", "stopped", "dropped"]
LadderOutcome = Literal["done", "done in part", "stopped after a frame", "closed and kept", "dropped", "failed"]
TurnState = Literal["asked", "answered", "answered beforehand", "answered for me", "not done", "nobody answered"]
RegionsSource = Literal["given", "confirmed", "as proposed", "proposed"]


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
class RunStarted:
    """A run began. `camera` is the identity the body gave, `body_file` its body file with how sure it is."""

    version: str
    simulated: bool
    pace: str
    camera: dict[str, Any]
    body_file: dict[str, Any]


@dataclass(frozen=True, kw_only=True)
class LadderStarted:
    """A ladder began: the plan's text as it stood and the ladder made from it (as `ladder --json` gives it)."""

    ladder: int
    title: str
    plan_text: str
    planned: dict[str, Any]


@dataclass(frozen=True, kw_only=True)
class ApplyIntent:
    """The settings about to be sent for a frame."""

    frame: int
    asked: Applied


@dataclass(frozen=True, kw_only=True)
class ApplyOutcome:
    """What the body read back, or why it did not take the settings."""

    frame: int
    read_back: Applied | None
    problem: str | None = None


@dataclass(frozen=True, kw_only=True)
class ExposeIntent:
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
class ExposeOutcome:
    """How the exposure went. Stamps are of the run's monotonic clock; the UTC labels are for reading only.

    `body_said_s` is how long the body itself counted that it was open, where it counts.
    """

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
    note: str | None = None
    body_said_s: float | None = None


@dataclass(frozen=True, kw_only=True)
class FetchIntent:
    """A file about to be brought home; frame None: not matched to a frame of ours."""

    frame: int | None
    folder: str
    name: str


@dataclass(frozen=True, kw_only=True)
class FetchOutcome:
    """A file that is home and checked (path relative to the outing), or why it is not."""

    frame: int | None
    card_name: str
    name: str | None
    size: int | None
    sha256: str | None
    preview: str | None = None
    problem: str | None = None


@dataclass(frozen=True, kw_only=True)
class ExifRead:
    """What the frame itself says it was taken with; `differs` names in sentences what is not as asked.

    `rounded_s` is how far its time is rounded [s]; None: not known.
    """

    frame: int
    exif: Applied
    taken_at: str | None
    differs: list[str] = field(default_factory=list)
    rounded_s: float | None = None


@dataclass(frozen=True, kw_only=True)
class FrameRead:
    """What a frame's pixels say, by name; `problem` where they could not be read."""

    frame: int
    readings: dict[str, Any]
    problem: str | None = None


@dataclass(frozen=True, kw_only=True)
class RegionsSet:
    """What is water and what is rock in the frames of a ladder, by cells (`tether.frames.regions`).

    `source`: "given" in the plan, "confirmed" by the person, "as proposed" by the plan's leave, or "proposed" only.
    """

    ladder: int
    source: RegionsSource
    cells: list[str]


@dataclass(frozen=True, kw_only=True)
class CardListed:
    """What was on the card when a ladder began (folder and name): none of it is a frame of ours."""

    ladder: int
    files: list[list[str]]


@dataclass(frozen=True, kw_only=True)
class Turn:
    """Something the person had to do, before a rung (None: not before any), and how it was answered.

    `fitted` names what is on the lens afterwards, nearest first; None: it was not about filters.
    """

    ladder: int
    rung: int | None
    what: str
    reason: str
    state: TurnState
    fitted: list[str] | None = None


@dataclass(frozen=True, kw_only=True)
class Steered:
    """The person steered: the verb, and what came of it."""

    verb: str
    effect: str


@dataclass(frozen=True, kw_only=True)
class RungEnded:
    """A rung is over, and how."""

    ladder: int
    rung: int
    outcome: RungOutcome
    note: str | None = None


@dataclass(frozen=True, kw_only=True)
class LadderEnded:
    """A ladder is over, and how."""

    ladder: int
    outcome: LadderOutcome
    note: str | None = None


@dataclass(frozen=True, kw_only=True)
class Noted:
    """Anything else worth keeping, in a sentence; of a check also what was looked at and what it came to."""

    about: Literal["caution", "trouble", "check", "note"]
    text: str
    frame: int | None = None
    rung: int | None = None
    what: str | None = None
    verdict: Literal["ok", "note", "stop"] | None = None


Record = (
    RunStarted
    | LadderStarted
    | ApplyIntent
    | ApplyOutcome
    | ExposeIntent
    | ExposeOutcome
    | FetchIntent
    | FetchOutcome
    | ExifRead
    | FrameRead
    | RegionsSet
    | CardListed
    | Turn
    | Steered
    | RungEnded
    | LadderEnded
    | Noted
)
