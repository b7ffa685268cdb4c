"""The ladder: what the planner decided, as frozen records that the engine works through in order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tether.exposure.filters import Filter
from tether.exposure.marks import Mark
from tether.plan.file import Base, Taken

Way = Literal["timed", "held", "many"]
TurnKind = Literal["change filters", "cover the finder", "cap on", "own"]


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One way to make one rung.

    Attributes
    ----------
    time_s, time_label
        Exact time of each frame [s] and what the body is sent (its mark, or "bulb" where it is held).
    darker_by_stops
        How much darker than the base this rung is wanted [stops].
    error_stops
        What rounding leaves: positive is brighter than wanted [stops].
    time_off_stops
        How far the time is from the one asked for: positive is longer [stops].
    frames
        Frames that stand for one long exposure; 1 unless `way` is "many".
    price
        What the weights of the plan make of it; only differences matter.
    """

    way: Way
    time_s: float
    time_label: str
    aperture: Mark
    iso: Mark
    stack: tuple[Filter, ...]
    filter_stops: float
    darker_by_stops: float
    error_stops: float
    time_off_stops: float
    frames: int
    price: float

    @property
    def stands_for_s(self) -> float:
        """The one long exposure that the frames stand for [s]."""
        return self.time_s * self.frames


@dataclass(frozen=True, kw_only=True)
class Proof:
    """A quick frame before a long hold: the same aperture and filters, faster by ISO and time."""

    way: Way
    time_s: float
    time_label: str
    iso: Mark
    faster_by_stops: float
    error_stops: float


@dataclass(frozen=True, kw_only=True)
class Alternative:
    """Another way to make a rung and what it would cost more."""

    choice: Choice
    price_more: float
    words: str


@dataclass(frozen=True, kw_only=True)
class Rung:
    """One rung, numbered from 1 in the order it is taken.

    `frames` counts what is exposed: repeats, a burst, or the n frames of a *many*. `fitted` are all filters on the
    lens but those always on. `headroom_lost_stops` is what an extended ISO takes from the highlights.
    """

    number: int
    wanted: Mark
    choice: Choice
    fitted: tuple[Filter, ...]
    frames: int
    taken: Taken
    reason: str
    headroom_lost_stops: float
    proof: Proof | None
    others: tuple[Alternative, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Turn:
    """Something the person must do: before a rung, or (`before_rung` None) after the last one.

    `fitted` is what is on the lens afterwards, nearest the lens first.
    """

    before_rung: int | None
    kind: TurnKind
    what: str
    reason: str
    takes_s: float
    fitted: tuple[Filter, ...]


@dataclass(frozen=True, kw_only=True)
class Unreached:
    """A rung that cannot be had, the nearest that can, and what would make it reachable."""

    wanted: Mark
    sentence: str


@dataclass(frozen=True, kw_only=True)
class Dark:
    """A dark frame to take with the cap on, after the last rung."""

    way: Way
    time_s: float
    time_label: str
    aperture: Mark
    iso: Mark


@dataclass(frozen=True, kw_only=True)
class Forecast:
    """How long the ladder will take [s], by what takes it; waiting for the person's key is not in it."""

    exposing_s: float
    proofs_s: float
    changes_s: float
    settling_s: float
    fetching_s: float
    darks_s: float

    @property
    def total_s(self) -> float:
        """All of it [s]."""
        return self.exposing_s + self.proofs_s + self.changes_s + self.settling_s + self.fetching_s + self.darks_s


@dataclass(frozen=True, kw_only=True)
class Ladder:
    """A whole ladder as planned."""

    title: str
    body_name: str
    simulated: bool
    body_tried: str | None
    base: Base
    always_on: tuple[Filter, ...]
    on_hand: tuple[Filter, ...]
    rungs: tuple[Rung, ...]
    turns: tuple[Turn, ...]
    darks: tuple[Dark, ...]
    unreached: tuple[Unreached, ...]
    cautions: tuple[str, ...]
    forecast: Forecast
    leave_by: str | None

    def turns_before(self, rung: int | None) -> tuple[Turn, ...]:
        """Return the turns due before a rung, or (None) those after the last one."""
        return tuple(turn for turn in self.turns if turn.before_rung == rung)
