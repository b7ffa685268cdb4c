"""The order of rungs in light that falls or rises: by what it costs over the forecast."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tether.exposure.filters import Filter
from tether.exposure.marks import Mark
from tether.plan.choices import Space, ways
from tether.plan.path import touched


@dataclass(frozen=True, kw_only=True)
class Step:
    """A rung in some order: what is wanted, in how many frames of what time [s], through what."""

    wanted: Mark
    frames: int
    time_s: float
    fitted: tuple[Filter, ...]
    stack: tuple[Filter, ...]


def cost_in_light(space: Space, steps: Sequence[Step]) -> float:
    """Return what the rungs cost in this order [stops], each in the light that there will be then; touches left out.

    Where light fell so far that a rung can no longer be made, it counts as all that is lacking.
    """
    light = space.plan.light
    per_s = light.stops_per_min / 60 * {"falling": 1, "rising": -1, "steady": 0}[light.trend]
    stacks = {frozenset(stack): at for at, stack in enumerate(space.stacks)}
    total, now_s = 0.0, 0.0
    before: tuple[Filter, ...] = ()
    for step in steps:
        now_s += _turn_s(space, before, step.fitted)
        dimmer = per_s * now_s
        found = ways(space, step.wanted, stacks[frozenset(step.stack)], dimmer)
        total += min((one.price for one in found), default=abs(dimmer) + 1)
        now_s += step.frames * (step.time_s + (space.abilities.fetch_s or 0.0))
        before = step.fitted
    return total


def _turn_s(space: Space, before: tuple[Filter, ...], after: tuple[Filter, ...]) -> float:
    off, on = touched(before, after)
    return sum(one.swap_s for one in (*off, *on)) + (space.plan.run.settle_s if off or on else 0.0)
