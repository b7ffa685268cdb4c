"""The order of rungs in light that falls or rises: by what it costs over the forecast."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tether.exposure.filters import Filter, change_s
from tether.exposure.marks import Mark
from tether.plan.choices import Space, ways
from tether.plan.ladder import Choice
from tether.plan.path import touched


@dataclass(frozen=True, kw_only=True)
class RungOrder:
    """A rung in some order: what is wanted, in how many frames made how, through what; `must` be had or not."""

    wanted: Mark
    frames: int
    choice: Choice
    fitted: tuple[Filter, ...]
    must: bool = False


@dataclass(frozen=True, kw_only=True)
class InLight:
    """What an order comes to in light that changes: its cost without touches [stops], and which steps are lost to it.

    Where the light changed so far that a rung can no longer be made, it costs all that is lacking.
    """

    cost_stops: float
    lost: tuple[int, ...]


def in_light(space: Space, steps: Sequence[RungOrder]) -> InLight:
    """Return what rungs come to in this order, each in the light that there will be then."""
    light = space.plan.light
    per_s = light.stops_per_min / 60 * {"falling": 1, "rising": -1, "steady": 0}[light.trend]
    stacks = {frozenset(stack): at for at, stack in enumerate(space.stacks)}
    total, now_s, lost = 0.0, 0.0, []
    before: tuple[Filter, ...] = ()
    for at, step in enumerate(steps):
        off, on = touched(before, step.fitted)
        now_s += change_s(off, on) + (space.plan.run.settle_s if off or on else 0.0)
        dimmer = per_s * now_s
        found = ways(space, step.wanted, stacks[frozenset(step.choice.stack)], dimmer)
        price = min((one.price for one in found), default=None)
        lost += [at] if price is None and dimmer else []
        total += abs(dimmer) + 1 if price is None else price
        now_s += step.frames * (step.choice.time_s + (space.abilities.fetch_s or 0.0))
        before = step.fitted
    return InLight(cost_stops=total, lost=tuple(lost))
