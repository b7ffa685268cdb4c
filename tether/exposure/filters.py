"""Filters: strengths by density, factor or stops, what is known of them, and which may stack with which.

A density D lets 10^-D of the light through (ISO 5): stops = D / log10 2 = 3.3219 D, factor = 10^D = 2^stops.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any, Literal

from tether.errors import PlanError

Kind = Literal["always on", "nd", "graduated"]
Way = Literal["stops", "factor", "density"]

#: How far an unmeasured filter may be from its nominal strength, as a part of it: ±10 % of the nominal density in
#: manufacture (ANSI PH2.19-1976, as stated on the data sheet of gelatin neutral-density filters).
UNMEASURED_TOLERANCE = 0.1

_DENSITY_PER_STOP = math.log10(2)
_STRONGEST_STOPS = 40.0
#: Most filters of a rung at a time, always-on ones not counted.
_MOST = 3


def stops_of_density(density: float) -> float:
    """Return the stops a density takes away (ISO 5): 0.3 is 0.997, 3.0 is 9.966."""
    return density / _DENSITY_PER_STOP


def stops_of_factor(factor: float) -> float:
    """Return the stops behind a filter factor, the number of times the exposure must be longer: 8 is 3, 1000 is 9.966.

    `factor` is positive; 1 is clear glass.
    """
    return math.log2(factor)


#: What a strength is in stops, by the way in which it is said.
STOPS_OF: dict[Way, Callable[[float], float]] = {
    "stops": lambda number: number,
    "factor": stops_of_factor,
    "density": stops_of_density,
}


@dataclass(frozen=True, kw_only=True)
class Filter:
    """One filter on hand.

    Attributes
    ----------
    name
        What the person calls it; unique among the filters of a ladder.
    nominal_stops
        Strength by its label [stops], 0 to 40.
    kind
        ``always on`` stays on the lens for the whole ladder (a polariser); ``nd`` darkens the whole frame and comes and
        goes with the rungs; ``graduated`` also does, but leaves part of the frame clear.
    measured_stops, uncertainty_stops
        Strength as measured, and how far off that may be [stops]; None: not known.
    stacks_with
        Names of the filters it may share the lens with; None: any.
    slot
        Where it sits, counted from the lens; lower is nearer. 0: no slot of its own (screwed on), so several fit.
    min_focal_mm
        Shortest focal length without dark corners [mm]; None: not known.
    tint_stops
        What the channel that it holds back most loses beyond green [stops]; None: not measured.
    swap_s, off_s
        Time to fit it, and to take it off [s]; `off_s` None: as long.

    Raises
    ------
    PlanError
        A value makes no sense; one sentence each.
    """

    name: str
    nominal_stops: float
    kind: Kind = "nd"
    measured_stops: float | None = None
    uncertainty_stops: float | None = None
    stacks_with: tuple[str, ...] | None = None
    slot: int = 0
    min_focal_mm: float | None = None
    tint_stops: float | None = None
    swap_s: float = 60.0
    off_s: float | None = None

    def __post_init__(self) -> None:
        problems = _problems(self)
        if problems:
            raise PlanError(*problems)

    @classmethod
    def of(
        cls,
        name: str,
        *,
        density: float | None = None,
        factor: float | None = None,
        stops: float | None = None,
        **rest: Any,
    ) -> Filter:
        """Make a filter from its strength as its maker prints it, in exactly one of the three ways.

        Parameters
        ----------
        name
            What the person calls it.
        density
            Optical density, for example 3.0.
        factor
            How many times longer the exposure must be, for example 1000.
        stops
            For example 10.
        **rest
            The other attributes of a filter.

        Raises
        ------
        PlanError
            The strength is given in none or several ways, or makes no sense.
        """
        ways: tuple[tuple[Way, float | None], ...] = (("density", density), ("factor", factor), ("stops", stops))
        given = [(way, value) for way, value in ways if value is not None]
        if len(given) != 1:
            raise PlanError(
                f"Filter “{name}” needs its strength as exactly one of density, factor or stops; "
                f"given: {', '.join(f'{way} {value:g}' for way, value in given) or 'none'}."
            )
        if factor is not None and factor < 1:
            raise PlanError(f"Filter “{name}”: a factor is at least 1 (clear glass), not {factor:g}.")
        ((way, value),) = given
        return cls(name=name, nominal_stops=STOPS_OF[way](value), **rest)

    @property
    def measured(self) -> bool:
        """Whether its real strength is known."""
        return self.measured_stops is not None

    @property
    def stops(self) -> float:
        """Strength to reckon with [stops]: as measured, else by its label."""
        return self.nominal_stops if self.measured_stops is None else self.measured_stops

    @property
    def spread_stops(self) -> float:
        """How far its strength may be off [stops]: the measurement's uncertainty (0 if none was given), else 10 %."""
        if self.measured:
            return self.uncertainty_stops or 0.0
        return UNMEASURED_TOLERANCE * self.nominal_stops


def stack_stops(filters: Iterable[Filter]) -> float:
    """Return what a stack takes from the whole frame [stops]; densities add (ISO 5).

    A graduated filter leaves part of the frame clear and so counts for nothing here.
    """
    return math.fsum(each.stops for each in filters if each.kind != "graduated")


def stacks(filters: Sequence[Filter], *, focal_mm: float | None = None) -> tuple[tuple[Filter, ...], ...]:
    """List the stacks that may be put on the lens for a rung, from none to three filters, always-on ones not counted.

    An always-on filter is in none of them: whoever calls adds its stops to everything, the base included. It is on the
    lens all the same, so what may not stack with it, or would sit in its slot, is left out. Two filters may stack when
    each allows the other and they do not share a slot (0 is shared by any number). A filter that would give dark
    corners at `focal_mm` is left out; stacked filters are not taken to be worse than the worst of them.

    Parameters
    ----------
    filters
        All filters on hand, always-on ones included; names unique.
    focal_mm
        Focal length in use [mm]; None: not known, no filter is left out for it.

    Returns
    -------
    tuple of tuple of Filter
        The empty stack first, then by number of filters and as listed; each from the lens outwards.

    Raises
    ------
    PlanError
        Two filters have the same name.
    """
    names = [each.name for each in filters]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise PlanError(*(f"More than one filter is called “{name}”; give each a name of its own." for name in twice))
    fixed = [each for each in filters if each.kind == "always on"]
    usable = [
        each
        for each in filters
        if each.kind != "always on" and fits(each, focal_mm) and all(may_stack(each, other) for other in fixed)
    ]
    return tuple(
        tuple(sorted(stack, key=lambda each: each.slot))
        for count in range(min(_MOST, len(usable)) + 1)
        for stack in combinations(usable, count)
        if all(may_stack(one, other) for one, other in combinations(stack, 2))
    )


def _problems(each: Filter) -> list[str]:
    strength = f"between 0 and {_STRONGEST_STOPS:g} stops"
    measured, uncertainty, focal = each.measured_stops, each.uncertainty_stops, each.min_focal_mm
    checks = [
        (0 <= each.nominal_stops <= _STRONGEST_STOPS, f"its strength is {strength}, not {each.nominal_stops:g}"),
        (measured is None or 0 <= measured <= _STRONGEST_STOPS, f"its measured strength is {strength}"),
        (uncertainty is None or measured is not None, "an uncertainty needs the measured strength it belongs to"),
        (uncertainty is None or 0 <= uncertainty < math.inf, "an uncertainty is 0 stops or more"),
        (each.slot >= 0, f"its slot is 0 or more, not {each.slot}"),
        (focal is None or 0 < focal < math.inf, "its shortest focal length is more than 0 mm"),
        (0 <= each.swap_s < math.inf, f"its swap time is 0 s or more, not {each.swap_s:g}"),
        (each.off_s is None or 0 <= each.off_s < math.inf, "the time to take it off is 0 s or more"),
    ]
    return [f"Filter “{each.name}”: {problem}." for good, problem in checks if not good]


def change_s(off: Iterable[Filter], on: Iterable[Filter]) -> float:
    """Return how long it takes to take some filters off and put others on [s]."""
    off_s = math.fsum(one.swap_s if one.off_s is None else one.off_s for one in off)
    return off_s + math.fsum(one.swap_s for one in on)


def fits(each: Filter, focal_mm: float | None) -> bool:
    """Say whether a filter shows no dark corners at a focal length [mm], as far as is known."""
    return focal_mm is None or each.min_focal_mm is None or each.min_focal_mm <= focal_mm


def may_stack(one: Filter, other: Filter) -> bool:
    """Say whether two filters may be on the lens together: each allows the other, and they do not share a slot."""
    return (
        (one.slot == 0 or one.slot != other.slot)
        and (one.stacks_with is None or other.name in one.stacks_with)
        and (other.stacks_with is None or one.name in other.stacks_with)
    )
