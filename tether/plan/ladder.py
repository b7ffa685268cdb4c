"""The ladder: what the planner decided, as frozen records that the engine works through in order."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from tether.exposure.filters import Filter
from tether.exposure.marks import Mark
from tether.journal.planned import Forecast, NotReached, PlannedTurn
from tether.plan.file import Base, Taken
from tether.plan.paying import Cost

Way = Literal["timed", "held", "many"]

#: How long dark frames are offered; then they are left, so that nobody has to be there [s].
OFFERED_FOR_S = 300.0


@dataclass(frozen=True, kw_only=True)
class HowMade:
    """How a frame is made.

    `time_s` is its exact time [s], `time_label` what the body is sent (its mark, or "bulb" where it is held).
    """

    way: Way
    time_s: float
    time_label: str
    aperture: Mark
    iso: Mark


@dataclass(frozen=True, kw_only=True)
class Choice(HowMade):
    """One way to make one rung.

    Attributes
    ----------
    darker_by_stops
        How much darker than the base this rung is wanted [stops].
    error_stops
        What rounding leaves: positive is brighter than wanted [stops].
    time_off_stops
        How far the time is from the one asked for: positive is longer [stops].
    frames
        Frames that stand for one long exposure; 1 unless `way` is "many".
    paid
        What it costs, by what it is paid with.
    bracket_stops
        How much brighter it is meant to be than the rung that it is blended with [stops]; None: a rung of its own.
    """

    stack: tuple[Filter, ...]
    filter_stops: float
    darker_by_stops: float
    error_stops: float
    time_off_stops: float
    frames: int
    paid: Cost
    bracket_stops: float | None = None

    @property
    def price(self) -> float:
        """What it costs without touches [stops of light]."""
        return self.paid.stops

    @property
    def stands_for_s(self) -> float:
        """The one long exposure that the frames stand for [s]."""
        return self.time_s * self.frames


@dataclass(frozen=True, kw_only=True)
class Proof(HowMade):
    """A quick frame through filters that were just fitted: faster by ISO, by aperture only where it must be."""

    faster_by_stops: float
    error_stops: float


@dataclass(frozen=True, kw_only=True)
class Alternative:
    """Another way to make a rung: what it is beside the one chosen, and what it would cost more [stops]."""

    choice: Choice
    kind: str
    price_more: float
    words: str


@dataclass(frozen=True, kw_only=True)
class Rung:
    """One rung, numbered from 1 in the order it is taken.

    `frames` counts what is exposed: repeats, a burst, or the n frames of a *many*. `fitted` are all filters on the
    lens but those always on. `headroom_lost_stops` is what an extended ISO takes from the highlights. `asked` is the
    time that the plan asks for, where `wanted` is the nearest that can be had. `must`: where time is short, others go
    first. `bare` are taken without glass before its filters go on: each tells an ISO's own step.
    `expected_s` and `expected_test_s` are how long a bulb exposure of it and its test are expected to be open in light
    that changes [s]; None: as planned.
    `touches_stops` is what the filters put on or taken off for it cost, and `costs` says what all of it costs, and the
    next best way.
    """

    number: int
    asked: Mark
    wanted: Mark
    choice: Choice
    fitted: tuple[Filter, ...]
    frames: int
    taken: Taken
    reason: str
    costs: str
    touches_stops: float
    headroom_lost_stops: float
    proof: Proof | None
    bare: tuple[Proof, ...] = ()
    must: bool = False
    others: tuple[Alternative, ...] = ()
    expected_s: float | None = None
    expected_test_s: float | None = None

    @property
    def open_s(self) -> float:
        """How long each frame is expected to be open [s]."""
        return self.choice.time_s if self.expected_s is None else self.expected_s

    @property
    def tests(self) -> tuple[Proof, ...]:
        """The test exposures that come before it, in order."""
        return (*self.bare, *([self.proof] if self.proof else []))

    @property
    def tests_s(self) -> tuple[float, ...]:
        """How long each of them is expected to be open [s]."""
        own = [] if self.proof is None else [self.expected_test_s or self.proof.time_s]
        return (*(one.time_s for one in self.bare), *own)


@dataclass(frozen=True, kw_only=True)
class Dark(HowMade):
    """A dark frame to take with the cap on, after the last rung; one that is only offered counts in no sum."""

    offered: bool = False


@dataclass(frozen=True, kw_only=True)
class BaseFrames:
    """Frames of the base exposure, without filters but those always on; all later ones are read against them.

    Attributes
    ----------
    time_s
        Exact time of each [s].
    before, after
        How many are taken before the first rung, and after the last one.
    take_off_s
        How long it takes to have the filters off for those after the last rung [s]; 0: none is on, or none is taken.
    """

    time_s: float
    before: int
    after: int
    take_off_s: float


@dataclass(frozen=True, kw_only=True)
class PlannedExposure:
    """One frame that a ladder makes: of what kind, for which rung (None: for none), and its time, as expected [s]."""

    kind: Literal["base", "proof", "rung", "dark"]
    rung: int | None
    time_s: float


@dataclass(frozen=True, kw_only=True)
class Ladder:
    """A whole ladder as planned.

    `notes` are worth knowing of it, `cautions` are of what can hurt somebody; `learned` says what its forecast counts
    by earlier outings.
    """

    title: str
    body_name: str
    simulated: bool
    body_tried: str | None
    base: Base
    base_frames: BaseFrames
    always_on: tuple[Filter, ...]
    on_hand: tuple[Filter, ...]
    rungs: tuple[Rung, ...]
    turns: tuple[PlannedTurn, ...]
    darks: tuple[Dark, ...]
    unreached: tuple[NotReached, ...]
    cautions: tuple[str, ...]
    forecast: Forecast
    leave_by: str | None
    notes: tuple[str, ...] = ()
    learned: tuple[str, ...] = ()

    @property
    def exposures(self) -> tuple[PlannedExposure, ...]:
        """Every frame that the ladder makes, in the order in which they are made, without what is only offered."""
        return exposures(self.base_frames, self.rungs, self.darks)

    def exposures_from(self, rung: int) -> tuple[PlannedExposure, ...]:
        """Return the frames still to be made when everything before a rung is done."""
        after = next((at for at, one in enumerate(self.exposures) if one.rung is not None and one.rung >= rung), None)
        return () if after is None else self.exposures[after:]

    def stack(self, names: Iterable[str]) -> tuple[Filter, ...]:
        """Return filters on hand by their names, in that order."""
        return tuple(one for name in names for one in self.on_hand if one.name == name)

    def turns_before(self, rung: int | None) -> tuple[PlannedTurn, ...]:
        """Return the turns due before a rung, or (None) those after the last one."""
        return tuple(turn for turn in self.turns if turn.before_rung == rung)


def exposures(base: BaseFrames, rungs: Sequence[Rung], darks: Sequence[Dark]) -> tuple[PlannedExposure, ...]:
    """Return every frame that a ladder of these makes unasked, in the order in which they are made."""
    of_base = PlannedExposure(kind="base", rung=None, time_s=base.time_s)
    return (
        *[of_base] * base.before,
        *(one for rung in rungs for one in _of_rung(rung)),
        *[of_base] * base.after,
        *(PlannedExposure(kind="dark", rung=None, time_s=dark.time_s) for dark in darks if not dark.offered),
    )


def _of_rung(rung: Rung) -> tuple[PlannedExposure, ...]:
    own = PlannedExposure(kind="rung", rung=rung.number, time_s=rung.open_s)
    tests = [PlannedExposure(kind="proof", rung=rung.number, time_s=time_s) for time_s in rung.tests_s]
    return (*tests, *[own] * rung.frames)
