"""Every way to pay for a rung: filter stacks, apertures and ISO values on the body's own lists, each with its price.

The whole space is searched: for a stack, the pair of aperture and ISO must bring the rung's time within the plan's
tolerance; pairs are sorted by what they pay, so only those that can fit are looked at.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot, log2, sqrt

from tether.exposure.abilities import Abilities
from tether.exposure.filters import Filter, stack_spread_stops, stack_stops
from tether.exposure.marks import Mark
from tether.exposure.optics import (
    aperture_airy_two_pixels,
    aperture_cutoff_at_nyquist,
    aperture_for_range,
    circle_of_confusion_mm,
    depth_of_field_mm,
)
from tether.exposure.stops import aperture_stops, iso_stops, time_stops
from tether.plan.file import Plan
from tether.plan.ladder import Choice, Way

#: Guards comparisons of stops against the last bits of a float.
TINY = 1e-6
#: Frames of a *many* are at least this long, so that the gaps between them stay small (common practice, no source).
MANY_FRAME_S = 1.0
#: A held rung may be this many times as far from the time asked as a timed one: nobody sees a third of a stop in a
#: minute of water (common practice, no source).
HELD_TIMES = 2.0
#: From this time on, `a third for long water` darkens (common practice, no source).
LONG_WATER_S = 1.0


@dataclass(frozen=True, kw_only=True)
class Pair:
    """An aperture and an ISO: how many stops longer than the base time they make the exposure, and their price."""

    stops: float
    price: float
    aperture: Mark
    iso: Mark


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
    stack_spreads: tuple[float, ...]


def diffraction_limit(plan: Plan, pitch_um: float) -> float:
    """Return the narrowest f-number that diffraction leaves worth using, by the plan's convention (inf: off)."""
    if plan.limits.diffraction == "off":
        return float("inf")
    if plan.limits.diffraction == "two pixels":
        return aperture_airy_two_pixels(pitch_um)
    return aperture_cutoff_at_nyquist(pitch_um)


def allowed_apertures(plan: Plan, abilities: Abilities) -> tuple[Mark, ...]:
    """Return the apertures the planner may use: window, depth of field and diffraction, the base's own always."""
    base, limits = plan.base.aperture.exact, plan.limits
    widest, narrowest = base / sqrt(2) ** limits.aperture_stops, base * sqrt(2) ** limits.aperture_stops
    if limits.aperture:
        widest, narrowest = limits.aperture[0].exact, limits.aperture[1].exact
    narrowest = min(narrowest, max(diffraction_limit(plan, abilities.pitch_um), base))
    return tuple(
        mark
        for mark in abilities.apertures
        if aperture_stops(widest, mark.exact) > -0.05
        and aperture_stops(narrowest, mark.exact) < 0.05
        and _deep_enough(plan, abilities, mark.exact)
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
    """Return the ISO values the planner may use: the window, extended ones only where the plan allows them."""
    base, limits = plan.base.iso.exact, plan.limits
    lowest = abilities.isos[0].exact if limits.extended_iso else min(base, abilities.base_iso)
    highest = base * 2**limits.iso_stops
    if limits.iso:
        lowest, highest = limits.iso[0].exact, limits.iso[1].exact
    floor = 0.0 if limits.extended_iso else min(base, abilities.base_iso)
    return tuple(
        mark
        for mark in abilities.isos
        if iso_stops(mark.exact, lowest) > -0.05 and iso_stops(mark.exact, highest) < 0.05 and mark.exact > floor * 0.97
    )


def _pairs(plan: Plan, abilities: Abilities) -> tuple[Pair, ...]:
    base, costs = plan.base, plan.costs
    pairs = []
    for aperture in allowed_apertures(plan, abilities):
        wider_stops = aperture_stops(aperture.exact, base.aperture.exact)
        for iso in allowed_isos(plan, abilities):
            more_stops = iso_stops(iso.exact, base.iso.exact)
            extended_stops = max(iso_stops(abilities.base_iso, iso.exact), 0.0)
            price = (
                costs.iso_per_stop * max(more_stops, 0.0)
                + costs.extended_iso_per_stop * extended_stops
                + costs.aperture_per_stop * abs(wider_stops)
            )
            pairs.append(Pair(stops=-wider_stops - more_stops, price=price, aperture=aperture, iso=iso))
    return tuple(sorted(pairs, key=lambda pair: (pair.stops, pair.price)))


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
        stack_spreads=tuple(stack_spread_stops(stack) for stack in stacks),
    )


def darker_by(space: Space, wanted_s: float, stack: int) -> float:
    """Return how much darker than the base a rung is wanted [stops], by the plan's `darker_by`."""
    rule = space.plan.top.darker_by
    if isinstance(rule, float):
        return rule
    if rule == "nothing":
        return 0.0
    if rule == "a third for long water":
        return 1 / 3 if wanted_s >= LONG_WATER_S * 0.99 else 0.0
    base = space.plan.base
    return hypot(space.stack_spreads[stack], 0.0 if base.measured else base.uncertainty_stops)


def unpaid_stops(space: Space, wanted_s: float, stack: int) -> float:
    """Return by how many stops aperture and ISO must lengthen the base time for a wanted time through a stack."""
    longer = time_stops(wanted_s, space.plan.base.time.exact)
    return longer - space.stack_stops[stack] + darker_by(space, wanted_s, stack)


def _fitting_pairs(space: Space, least: float, most: float) -> tuple[Pair, ...]:
    first = bisect_left(space.pair_stops, least - TINY)
    last = bisect_right(space.pair_stops, most + TINY)
    return space.pairs[first:last]


def _timed_mark(space: Space, wanted_stops: float, exact_stops: float, brighter: float) -> Mark | None:
    """Return the body's mark nearest to the exact time among those near enough to the wanted one.

    `brighter` is how much brighter than wanted it may come out [stops].
    """
    tolerance = space.plan.limits.time_off_stops + TINY
    first = bisect_left(space.time_stops, wanted_stops - tolerance)
    last = bisect_right(space.time_stops, wanted_stops + tolerance)
    near = range(first, last)
    best = min(near, key=lambda index: abs(space.time_stops[index] - exact_stops), default=None)
    if best is None or not -tolerance <= space.time_stops[best] - exact_stops <= brighter + TINY:
        return None
    return space.abilities.times[best]


def _is_timed(space: Space, wanted_stops: float) -> bool:
    tolerance = space.plan.limits.time_off_stops + TINY
    first = bisect_left(space.time_stops, wanted_stops - tolerance)
    return first < len(space.time_stops) and space.time_stops[first] <= wanted_stops + tolerance


def _can_hold(abilities: Abilities, time_s: float) -> bool:
    return bool(abilities.can_hold) and abilities.shortest_hold_s <= time_s <= abilities.longest_hold_s


def single_choices(space: Space, wanted: Mark, stack: int) -> Iterator[Choice]:
    """Yield every way to make a rung as one exposure through one stack."""
    wanted_stops = log2(wanted.exact)
    tolerance, costs = space.plan.limits.time_off_stops, space.plan.costs
    darker = darker_by(space, wanted.exact, stack)
    needed = unpaid_stops(space, wanted.exact, stack)
    timed = _is_timed(space, wanted_stops)
    stack_price = costs.per_filter * len(space.stacks[stack])
    below = above = tolerance if timed else tolerance * HELD_TIMES
    if timed and space.plan.top.darker_by == "what is unmeasured":
        # A rung that is darkened for safety may be less so before it is given up.
        below = max(below, darker)
    for pair in _fitting_pairs(space, needed - below, needed + above):
        exact_stops = wanted_stops + pair.stops - needed
        if timed:
            mark = _timed_mark(space, wanted_stops, exact_stops, brighter=below)
            if mark is None:
                continue
            way: Way = "timed"
            time_s, label = mark.exact, mark.label
        elif _can_hold(space.abilities, 2**exact_stops):
            way, time_s, label = "held", 2**exact_stops, "bulb"
        else:
            continue
        error = log2(time_s) - exact_stops if way == "timed" else 0.0
        off = log2(time_s) - wanted_stops
        error_price = error * costs.brighter_error_per_stop if error > 0 else -error * costs.darker_error_per_stop
        price = pair.price + stack_price + costs.time_off_per_stop * abs(off) + error_price
        yield Choice(
            way=way,
            time_s=time_s,
            time_label=label,
            aperture=pair.aperture,
            iso=pair.iso,
            stack=space.stacks[stack],
            filter_stops=space.stack_stops[stack],
            darker_by_stops=darker,
            error_stops=error,
            time_off_stops=off,
            frames=1,
            price=price,
        )


def many_choices(space: Space, wanted: Mark, stack: int) -> Iterator[Choice]:
    """Yield ways to stand for one long exposure by n timed frames through one stack, fewest frames first.

    Each frame is as bright as the base asks; their mean has that brightness too, and n times the light.
    """
    rungs, costs = space.plan.rungs, space.plan.costs
    if rungs.many == "never":
        return
    for mark in reversed(space.abilities.times):
        frames = round(wanted.exact / mark.exact)
        if frames < 2:
            continue
        if frames > rungs.many_at_most or mark.exact < MANY_FRAME_S * 0.99:
            return
        off = time_stops(mark.exact * frames, wanted.exact)
        if abs(off) > space.plan.limits.time_off_stops:
            continue
        found = False
        for one in single_choices(space, mark, stack):
            if one.way != "timed" or one.time_s != mark.exact:
                continue
            found = True
            yield Choice(
                way="many",
                time_s=one.time_s,
                time_label=one.time_label,
                aperture=one.aperture,
                iso=one.iso,
                stack=one.stack,
                filter_stops=one.filter_stops,
                darker_by_stops=one.darker_by_stops,
                error_stops=one.error_stops,
                time_off_stops=off,
                frames=frames,
                price=one.price + costs.time_off_per_stop * abs(off) + 0.1 * frames,
            )
        if found:
            return


def cheapest(choices: Iterator[Choice]) -> Choice | None:
    """Return the choice with the lowest price, the least error among equals."""
    return min(choices, key=lambda one: (one.price, abs(one.error_stops), abs(one.time_off_stops)), default=None)
