"""What a run tells those who watch it, as data. No countdown ticks: an event says when the shutter closes.

Moments are of the run's clock [ns]. Rungs are numbered as in the ladder; `frame` is the outing's running number.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

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
class StateChanged:
    """The run went from one state to another."""

    before: State
    state: State
    at_ns: int


@dataclass(frozen=True, kw_only=True)
class LadderBegun:
    """The ladder as planned (as `ladder --json` gives it), and what is done already where a run is taken up again."""

    planned: dict[str, Any]


@dataclass(frozen=True, kw_only=True)
class YourTurn:
    """The person is asked for something; `rung` None: after the last rung.

    `picture` is what they are to look at, as its path in the outing.
    """

    rung: int | None
    what: str
    reason: str
    picture: str | None = None


@dataclass(frozen=True, kw_only=True)
class TurnOver:
    """The person's turn is over, and how it was answered."""

    what: str
    how: str


@dataclass(frozen=True, kw_only=True)
class RungBegun:
    """A rung is taken in hand."""

    rung: int
    label: str
    frames: int


@dataclass(frozen=True, kw_only=True)
class FrameOpened:
    """The shutter is open; `closes_at_ns` is when it will be told to close, or when the body will be done."""

    frame: int
    rung: int | None
    kind: str
    way: str
    open_s: float
    at_ns: int
    closes_at_ns: int


@dataclass(frozen=True, kw_only=True)
class CloseMoved:
    """The open shutter will close at another moment than said before."""

    frame: int
    closes_at_ns: int


@dataclass(frozen=True, kw_only=True)
class FrameOver:
    """An exposure is over; `held_s` is between our commands, None where the body timed it."""

    frame: int
    rung: int | None
    kind: str
    outcome: str
    held_s: float | None


@dataclass(frozen=True, kw_only=True)
class FrameHome:
    """A frame is on disk and checked; `differs` says in sentences what is not as asked."""

    frame: int | None
    name: str
    differs: list[str] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class FrameSays:
    """What a frame's pixels say; None is not known.

    Headroom is to clipping, of the whole picture and of the water [stops]; None beside a clipped share above 0: burnt.
    `off_stops` is how much brighter than reckoned the rock is, `right_px` and `down_px` where it stands from the base's
    [px], `sharpness_lost` a share of the base's.
    """

    frame: int
    rung: int | None
    headroom_stops: float | None
    clipped_share: float
    water_headroom_stops: float | None
    water_clipped_share: float | None
    off_stops: float | None
    right_px: float | None
    down_px: float | None
    sharpness_lost: float | None


@dataclass(frozen=True, kw_only=True)
class RungOver:
    """A rung is over, and how."""

    rung: int
    outcome: str
    note: str | None = None


@dataclass(frozen=True, kw_only=True)
class SuppliesSeen:
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
class WishesChanged:
    """What the person said and is still to be done, in words; empty: nothing."""

    pending: list[str] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class Said:
    """A sentence for the person."""

    about: Literal["note", "trouble", "steered"]
    text: str


@dataclass(frozen=True, kw_only=True)
class LadderOver:
    """The ladder is over, and how; `trouble` is the kind of error that a failed one ended in."""

    outcome: str
    note: str | None = None
    trouble: str | None = None


Event = (
    StateChanged
    | LadderBegun
    | YourTurn
    | TurnOver
    | RungBegun
    | FrameOpened
    | CloseMoved
    | FrameOver
    | FrameHome
    | FrameSays
    | RungOver
    | SuppliesSeen
    | WishesChanged
    | Said
    | LadderOver
)
