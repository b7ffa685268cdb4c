"""Every way to pay for a rung: filter stacks, apertures and ISO values on the body's own lists, each with its cost.

The whole space is searched: for a stack, the pair of aperture and ISO must bring the rung's time within the plan's
tolerance; pairs are sorted by what they pay, so only those that can fit are looked at. Two habits of the trade (common
practice, no source) come before cost, as the rank of a way:

- to reach a slower rung ISO is not raised above the base's while an aperture from two stops wider than the base's to
  f/22, a filter on hand, or both, can do it; past f/16 only where no filter does;
- where no depth is written, apertures within a stop of the base's come first.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import hypot, log2, sqrt
from typing import NamedTuple

from tether.exposure.abilities import Abilities
from tether.exposure.filters import Filter, stack_stops
from tether.exposure.marks import Mark
from tether.exposure.optics import aperture_for_range, circle_of_confusion_mm, depth_of_field_mm
from tether.exposure.stops import aperture_stops, iso_stops, time_stops
from tether.plan.file import Plan
from tether.plan.ladder import Choice, Way
from tether.plan.paying import Cost, headroom_stops, noise_stops, sharpness, tint_stops

#: Guards comparisons of stops against the last bits of a float.
TINY = 1e-6
#: Frames of a *many* are at least this long, so that the gaps between them stay small (common practice, no source).
MANY_FRAME_S = 1.0
#: A held rung may be this many times as far from the time asked as a timed one: nobody sees a third of a stop in a
#: minute of water (common practice, no source).
HELD_TIMES = 2.0
#: From this time on, `a third for long water` darkens (common practice, no source).
LONG_WATER_S = 1.0
#: A slower rung is made between these apertures before ISO is raised for it: from so many stops wider than the base's,
#: through glass no further than the first, without it no further than the second (common practice, no source).
WIDER_STOPS, NARROW, NARROWEST = 2.0, 16.0, sqrt(2) ** 9
#: Ranks of a slower rung below this need no more than the base's ISO.
AT_BASE_ISO = 8
#: Apertures that come first where no depth is written [stops from the base's].
NEAR_STOPS = 1.0
#: Marks of a scale are told apart by more than this [stops].
_SAME = 0.05
_HELD = -1


@dataclass(frozen=True, kw_only=True)
class Pair:
    """An aperture and an ISO: how many stops longer than the base time they make the exposure, and what they cost.

    `rank` and `rank_slower` are the habits': lower comes first, for a slower rung and for any other. `away_stops` is
    how far the aperture is from the base's.
    """

    stops: float
    aperture: Mark
    iso: Mark
    sharp_stops: float
    noise_stops: float
    headroom_stops: float
    away_stops: float
    rank: int
    rank_slower: int


class FittingWay(NamedTuple):
    """A way that fits, in the order in which ways are preferred; `at` is its pair, `mark` its time (-1: held)."""

    rank: int
    price: float
    off_by: float
    time_off_by: float
    away_stops: float
    light_stops: float
    at: int
    mark: int
    error_stops: float
    time_off_stops: float


@dataclass(frozen=True, kw_only=True)
class Space:
    """All that a ladder may be made of, sorted for searching; `pair_stops` is the sort key of `pairs`."""

    plan: Plan
    abilities: Abilities
    pairs: tuple[Pair, ...]
    pair_stops: tuple[float, ...]
    time_stops: tuple[float, ...]
    stacks: tuple[tuple[Filter, ...], ...]
    stack_stops: tuple[float, ...]
    stack_tints: tuple[float, ...]

    @property
    def brighter_at_most(self) -> float:
        """How much brighter than wanted a rung may come out [stops]: the tolerance, or the measured headroom."""
        tolerance, headroom = self.plan.limits.time_off_stops, self.plan.base.headroom_stops
        return tolerance if headroom is None else min(tolerance, headroom)

    @property
    def darker_at_most(self) -> float:
        """How much darker than wanted a rung may come out [stops]: the tolerance, and what headroom takes from it."""
        return 2 * self.plan.limits.time_off_stops - self.brighter_at_most


def allowed_apertures(plan: Plan, abilities: Abilities) -> tuple[Mark, ...]:
    """Return the apertures the planner may use: the lens's, as far as the plan and its depth of field allow them."""
    base, limits = plan.base.aperture.exact, plan.limits
    widest, narrowest = 0.0, float("inf")
    if limits.aperture:
        widest, narrowest = limits.aperture[0].exact, limits.aperture[1].exact
    elif limits.aperture_stops is not None:
        widest, narrowest = base / sqrt(2) ** limits.aperture_stops, base * sqrt(2) ** limits.aperture_stops
    return tuple(
        mark
        for mark in abilities.apertures
        if widest * 0.983 < mark.exact < narrowest * 1.017 and _deep_enough(plan, abilities, mark.exact)
    )


def _deep_enough(plan: Plan, abilities: Abilities, aperture: float) -> bool:
    """Say whether an aperture gives the depth of field wanted, at the plan's focus or else at the best one."""
    if plan.limits.depth_m is None:
        return True
    near_mm, far_mm = (metres * 1000 for metres in plan.limits.depth_m)
    coc_mm = circle_of_confusion_mm(hypot(*abilities.sensor_mm))
    focal_mm = plan.lens.focal_mm
    if plan.lens.focus_m is None:
        return aperture >= aperture_for_range(focal_mm, coc_mm, near_mm, far_mm)[0]
    nearest_mm, farthest_mm = depth_of_field_mm(focal_mm, aperture, coc_mm, plan.lens.focus_m * 1000)
    return nearest_mm <= near_mm and farthest_mm >= far_mm


def allowed_isos(plan: Plan, abilities: Abilities) -> tuple[Mark, ...]:
    """Return the ISO values the planner may use: the body's, as far as the plan allows; extended ones if it says so."""
    base, limits = plan.base.iso.exact, plan.limits
    lowest = 0.0 if limits.extended_iso else min(base, abilities.base_iso)
    highest = float("inf") if limits.iso_stops is None else base * 2**limits.iso_stops
    if limits.iso:
        lowest, highest = max(lowest, limits.iso[0].exact), limits.iso[1].exact
    return tuple(mark for mark in abilities.isos if lowest * 0.97 < mark.exact < highest * 1.03)


def _pairs(plan: Plan, abilities: Abilities) -> tuple[Pair, ...]:
    base, sharp_stops = plan.base, sharpness(plan, abilities)
    pairs = []
    for aperture in allowed_apertures(plan, abilities):
        wider = aperture_stops(aperture.exact, base.aperture.exact)
        sharp = sharp_stops(aperture.exact)
        for iso in allowed_isos(plan, abilities):
            more = iso_stops(iso.exact, base.iso.exact)
            near = 0 if plan.limits.depth_m or abs(wider) <= NEAR_STOPS + _SAME else 1
            pair = Pair(
                stops=-wider - more,
                aperture=aperture,
                iso=iso,
                sharp_stops=sharp,
                noise_stops=noise_stops(plan, abilities, iso),
                headroom_stops=headroom_stops(plan, abilities, iso),
                away_stops=round(abs(wider), 3),
                rank=2 * near,
                rank_slower=4 * _habit(plan, abilities, aperture.exact, wider, iso) + 2 * near,
            )
            pairs.append(pair)
    return tuple(sorted(pairs, key=lambda pair: pair.stops))


def _habit(plan: Plan, abilities: Abilities, aperture: float, wider: float, iso: Mark) -> int:
    """Rank an aperture and an ISO for a slower rung: 0 comes first; then past f/16 or extended; last, farther off."""
    base = plan.base.aperture.exact
    raised = iso_stops(iso.exact, plan.base.iso.exact) > _SAME
    if raised or wider > WIDER_STOPS + _SAME or aperture > max(NARROWEST, base) * 1.02:
        return 2
    extended = headroom_stops(plan, abilities, iso) > 0
    return 1 if extended or aperture > max(NARROW, base) * 1.02 else 0


def make_space(plan: Plan, abilities: Abilities, stacks: tuple[tuple[Filter, ...], ...]) -> Space:
    """Lay out the search space of one plan on one body."""
    pairs = _pairs(plan, abilities)
    return Space(
        plan=plan,
        abilities=abilities,
        pairs=pairs,
        pair_stops=tuple(pair.stops for pair in pairs),
        time_stops=tuple(log2(mark.exact) for mark in abilities.times),
        stacks=stacks,
        stack_stops=tuple(stack_stops(stack) for stack in stacks),
        stack_tints=tuple(tint_stops(stack) for stack in stacks),
    )


def darker_by(plan: Plan, wanted_s: float) -> float:
    """Return how much darker than the base a rung is planned [stops], by the plan's `darker_by`.

    What is unmeasured darkens nothing here: only when a long exposure opens is it known whether it still is.
    """
    rule = plan.top.darker_by
    if isinstance(rule, float):
        return rule
    return 1 / 3 if rule == "a third for long water" and wanted_s >= LONG_WATER_S * 0.99 else 0.0


def can_hold(abilities: Abilities, time_s: float) -> bool:
    """Say whether a body can be held open for so long [s]."""
    return bool(abilities.can_hold) and abilities.shortest_hold_s <= time_s <= abilities.longest_hold_s


def within(ascending: Sequence[float], least: float, most: float) -> range:
    """Return which of some ascending numbers of stops lie between two, both included."""
    return range(bisect_left(ascending, least - TINY), bisect_right(ascending, most + TINY))


def ways(space: Space, wanted: Mark, stack: int, dimmer_stops: float = 0.0) -> Iterator[FittingWay]:
    """Yield every way to make a rung as one exposure through one stack, in light so much dimmer than the base's."""
    wanted_stops = log2(wanted.exact)
    slower = time_stops(wanted.exact, space.plan.base.time.exact) > _SAME
    needed = wanted_stops - log2(space.plan.base.time.exact) - space.stack_stops[stack]
    needed += darker_by(space.plan, wanted.exact) - dimmer_stops
    tolerance = space.plan.limits.time_off_stops
    times = within(space.time_stops, wanted_stops - tolerance, wanted_stops + tolerance)
    if not times:
        yield from _held(space, wanted_stops, needed, stack, slower)
    for mark in times:
        off = space.time_stops[mark] - wanted_stops
        least, most = needed + off - space.brighter_at_most, needed + off + space.darker_at_most
        for at in within(space.pair_stops, least, most):
            error = needed + off - space.pair_stops[at]
            yield _found(space, at, stack, slower, mark, error, off)


def _held(space: Space, wanted_stops: float, needed: float, stack: int, slower: bool) -> Iterator[FittingWay]:
    tolerance = space.plan.limits.time_off_stops * HELD_TIMES
    for at in within(space.pair_stops, needed - tolerance, needed + tolerance):
        off = space.pair_stops[at] - needed
        if can_hold(space.abilities, 2 ** (wanted_stops + off)):
            yield _found(space, at, stack, slower, _HELD, 0.0, off)


def _found(space: Space, at: int, stack: int, slower: bool, mark: int, error: float, off: float) -> FittingWay:
    pair = space.pairs[at]
    light = pair.noise_stops + pair.sharp_stops + max(-error, 0.0)
    price = max(light, 0.0) + pair.headroom_stops + space.stack_tints[stack]
    rank = pair.rank_slower if slower else pair.rank
    # A held time may be off by more than a timed one, but only where nothing nearer can be had.
    rank += abs(off) > space.plan.limits.time_off_stops + TINY
    # Rounded, so that what is the same but for the last bits of a float is the same.
    off_by, time_off_by = round(abs(error), 3), round(abs(off), 3)
    return FittingWay(rank, round(price, 6), off_by, time_off_by, pair.away_stops, light, at, mark, error, off)


def best(found: Iterable[FittingWay], rank: int | None = None) -> FittingWay | None:
    """Return the way that is preferred: lowest rank (or of the rank given), cost, rounding, distance from the time."""
    return min((one for one in found if rank is None or one.rank == rank), default=None)


def choice_of(space: Space, wanted: Mark, stack: int, found: FittingWay) -> Choice:
    """Return a way that was found as the choice it makes."""
    pair, held = space.pairs[found.at], found.mark == _HELD
    mark = None if held else space.abilities.times[found.mark]
    way: Way = "held" if mark is None else "timed"
    return Choice(
        way=way,
        time_s=wanted.exact * 2**found.time_off_stops if mark is None else mark.exact,
        time_label="bulb" if mark is None else mark.label,
        aperture=pair.aperture,
        iso=pair.iso,
        stack=space.stacks[stack],
        filter_stops=space.stack_stops[stack],
        darker_by_stops=darker_by(space.plan, wanted.exact),
        error_stops=found.error_stops,
        time_off_stops=found.time_off_stops,
        frames=1,
        paid=Cost(
            noise_stops=pair.noise_stops,
            sharp_stops=pair.sharp_stops,
            dark_stops=max(-found.error_stops, 0.0),
            headroom_stops=pair.headroom_stops,
            tint_stops=space.stack_tints[stack],
        ),
    )


def best_by_stack(space: Space, wanted: Mark, allowed: Sequence[bool]) -> tuple[Choice | None, ...]:
    """Return for each stack the best way to make a rung; None where it has none, or habit prefers another stack's."""
    longest = space.plan.limits.longest
    if longest and wanted.exact > longest.exact * 1.01:
        return tuple(None for _ in space.stacks)
    found = [list(ways(space, wanted, at)) if ok else [] for at, ok in enumerate(allowed)]
    rank = min((one.rank for each in found for one in each), default=None)
    return tuple(
        None if (one := best(each, rank)) is None else choice_of(space, wanted, at, one)
        for at, each in enumerate(found)
    )


def tied_at(space: Space, wanted: Mark, stack: int, aperture: Mark) -> Choice | None:
    """Return a way at some aperture that is as good as the best through a stack: same cost, rounding and time."""
    found = list(ways(space, wanted, stack))
    first = best(found)
    same = best(one for one in found if first and one[:4] == first[:4] and space.pairs[one.at].aperture == aperture)
    return None if same is None else choice_of(space, wanted, stack, same)


def best_single(space: Space, wanted: Mark, stack: int) -> Choice | None:
    """Return the best way to make a rung as one exposure through one stack, or None."""
    found = best(ways(space, wanted, stack))
    return None if found is None else choice_of(space, wanted, stack, found)


def best_many(space: Space, wanted: Mark, stack: int) -> Choice | None:
    """Return the fewest timed frames through one stack that stand for one long exposure, or None.

    Each is as bright as the base asks, and so is their mean. That it has n times the light earns nothing here.
    """
    rungs = space.plan.rungs
    for mark in reversed(space.abilities.times):
        frames = round(wanted.exact / mark.exact)
        if frames > rungs.many_at_most or mark.exact < MANY_FRAME_S * 0.99:
            return None
        if frames < 2:
            continue
        off = time_stops(mark.exact * frames, wanted.exact)
        if abs(off) > space.plan.limits.time_off_stops:
            continue
        one = best(found for found in ways(space, mark, stack) if found.mark != _HELD and not found.time_off_by)
        if one is not None:
            single = choice_of(space, mark, stack, one)
            return replace(single, way="many", time_off_stops=off, frames=frames)
    return None


def nearest_time_s(space: Space, wanted_s: float, allowed: Sequence[bool]) -> float | None:
    """Return the time nearest to a wanted one that can be had at all [s]; None: nothing can be."""
    longest = space.plan.limits.longest
    most = float("inf") if longest is None else log2(longest.exact * 1.01)
    base = log2(space.plan.base.time.exact) - darker_by(space.plan, wanted_s)
    stacks = [stops for stops, ok in zip(space.stack_stops, allowed, strict=True) if ok]
    pairs = {round(stops, 4) for stops in space.pair_stops}
    reached = (_reached(space, base + pair + stack) for pair in pairs for stack in stacks)
    times = {one for one in reached if one is not None and one <= most}
    wanted = log2(wanted_s)
    found = min(times, key=lambda one: (abs(one - wanted), one), default=None)
    return None if found is None else 2**found


def _reached(space: Space, exact_stops: float) -> float | None:
    """Return what a body makes of an exact time [log2 s]: its own mark if one is near, or the time itself, held."""
    near = within(space.time_stops, exact_stops - space.darker_at_most, exact_stops + space.brighter_at_most)
    if near:
        return min((space.time_stops[at] for at in near), key=lambda one: abs(one - exact_stops))
    return exact_stops if can_hold(space.abilities, 2**exact_stops) else None
