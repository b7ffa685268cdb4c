"""A ladder as it was planned, as plain records: what `tether ladder --json` gives, journals keep and faces show.

`aperture`, `time_s` and `iso` are exact; labels are what the body is sent; `error_stops` is positive where brighter
than wanted; None is not known. Names are a promise to other programs (`schemas/ladder.schema.json`).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log2

from tether.exposure.labels import time_label, with_unit

SCHEMA = "tether-ladder/1"
#: A rung that is made so far off from the time it was asked for by is called by its own [stops].
_OTHER_TIME_STOPS = 0.5


@dataclass(frozen=True, kw_only=True)
class PlannedFilter:
    """A filter on hand or always on."""

    name: str
    kind: str
    stops: float
    measured: bool
    spread_stops: float


@dataclass(frozen=True, kw_only=True)
class PlannedBeside:
    """A frame beside the rungs."""

    way: str
    time_s: float
    time_label: str
    iso: float
    iso_label: str


@dataclass(frozen=True, kw_only=True)
class PlannedProof(PlannedBeside):
    """A test exposure before a rung."""

    faster_by_stops: float
    error_stops: float


@dataclass(frozen=True, kw_only=True)
class Paid:
    """What a rung costs, by what it is paid with [stops]."""

    noise_stops: float
    sharp_stops: float
    dark_stops: float
    headroom_stops: float
    tint_stops: float
    touches_stops: float


@dataclass(frozen=True, kw_only=True)
class OtherWay:
    """Another way to make a rung, and how much more it costs [stops]."""

    words: str
    kind: str
    price_more: float


@dataclass(frozen=True, kw_only=True)
class PlannedRung:
    """One rung; `stands_for_s` is the time that the frames of a *many* rung stand for together [s].

    `bare` are the test exposures without glass before its filters go on, `proof` is the one through them.
    """

    rung: int
    wanted_s: float
    wanted_label: str
    time_s: float
    time_label: str
    aperture: float
    aperture_label: str
    iso: float
    iso_label: str
    filters: tuple[str, ...]
    filter_stops: float
    way: str
    frames: int
    taken: str
    stands_for_s: float | None
    darker_by_stops: float
    error_stops: float
    time_off_stops: float
    headroom_lost_stops: float
    proof: PlannedProof | None
    must: bool
    bracket_stops: float | None
    reason: str
    costs: str
    price: float
    paid: Paid
    others: tuple[OtherWay, ...]
    bare: tuple[PlannedProof, ...] = ()
    expected_s: float | None = None

    @property
    def name(self) -> str:
        """What it is called everywhere: the time that was asked for, ``1:04 min``, however long it is open for that.

        Where only another time is possible it is called by that one.
        """
        whole_s = self.stands_for_s or self.time_s
        is_other = abs(log2(whole_s / self.wanted_s)) > _OTHER_TIME_STOPS
        return with_unit(time_label(whole_s) if is_other else self.wanted_label)

    @property
    def opens(self) -> str:
        """How long its shutter is to be open, which may differ from its name: ``54.9 s``, ``8 × 30 s``."""
        time = with_unit(time_label(self.time_s))
        return f"{self.frames} × {time}" if self.way == "many" else time

    @property
    def tests(self) -> tuple[PlannedProof, ...]:
        """The test exposures that come before it, in order."""
        return (*self.bare, *([self.proof] if self.proof else []))


@dataclass(frozen=True, kw_only=True)
class PlannedTurn:
    """Something the person must do before a rung; `before_rung` None: after the last one."""

    before_rung: int | None
    kind: str
    what: str
    reason: str
    takes_s: float
    filters: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class PlannedDark(PlannedBeside):
    """A dark frame; `offered`: left out unless the person puts the cap on."""

    offered: bool = False


@dataclass(frozen=True, kw_only=True)
class PlannedBody:
    """The body that it was planned for; `tried` None: its body file was never tried on hardware."""

    name: str
    simulated: bool
    tried: str | None


@dataclass(frozen=True, kw_only=True)
class PlannedBase:
    """The base exposure, and the filters that are always on."""

    time_s: float
    time_label: str
    aperture: float
    aperture_label: str
    iso: float
    iso_label: str
    measured: bool
    filters: tuple[PlannedFilter, ...]


@dataclass(frozen=True, kw_only=True)
class Forecast:
    """How long the ladder will take [s], by what takes it; waiting for the person's key is not in it.

    `offered_s` is what dark frames take that are only offered: beside the sum.
    """

    exposing_s: float
    proofs_s: float
    changes_s: float
    settling_s: float
    fetching_s: float
    darks_s: float
    base_s: float = 0.0
    offered_s: float = 0.0

    @property
    def total_s(self) -> float:
        """All of it that is not only offered [s]."""
        exposed_s = self.base_s + self.exposing_s + self.proofs_s + self.darks_s
        return exposed_s + self.changes_s + self.settling_s + self.fetching_s


@dataclass(frozen=True, kw_only=True)
class PlannedBaseFrames:
    """How many frames of the base are taken before the first rung and after the last."""

    before: int
    after: int


@dataclass(frozen=True, kw_only=True)
class NotReached:
    """A time that was asked for and is not possible, and why."""

    wanted_s: float
    wanted_label: str
    sentence: str


@dataclass(frozen=True, kw_only=True)
class PlannedLadder:
    """The whole ladder; `notes` and `learned` say in sentences what is worth knowing and what its forecast counts."""

    schema: str = SCHEMA
    plan: str
    body: PlannedBody
    base: PlannedBase
    forecast_s: float
    forecast: Forecast
    frames: int
    base_frames: PlannedBaseFrames
    leave_by: str | None
    filters_on_hand: tuple[PlannedFilter, ...]
    rungs: tuple[PlannedRung, ...]
    turns: tuple[PlannedTurn, ...]
    darks: tuple[PlannedDark, ...]
    unreached: tuple[NotReached, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...] = ()
    learned: tuple[str, ...] = ()

    def rung(self, number: int | None) -> PlannedRung | None:
        """Return the rung of a number; None where there is none."""
        if number is not None and 0 < number <= len(self.rungs) and self.rungs[number - 1].rung == number:
            return self.rungs[number - 1]  # where it stands nearly always
        return next((rung for rung in self.rungs if rung.rung == number), None)
