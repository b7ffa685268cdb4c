"""The light of the simulated world over time: it falls or rises steadily, and clouds let it wander beside that."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tether.body.simulated.card import Spell
from tether.body.simulated.world import World
from tether.light.course import Course
from tether.light.falling import brightness_after, gathered_s

#: The parts that the wander is made of: how many times as fast as the slowest, and how strong.
_PARTS = ((1.0, 0.5), (1.7, 0.25), (3.1, 0.15), (6.7, 0.1))
#: An opening is looked at so often for each period of its fastest part, and no oftener than so often altogether.
_LOOKS, _MOST_LOOKS = 16.0, 20_000


def light_s(spell: Spell, world: World) -> float:
    """Return the light of a spell in seconds of the light at world time zero, clouds apart."""
    if world.light:
        return Course(points=world.light, then_stops_per_minute=0.0).gathered_s(spell.start_s, spell.open_s) or 0.0
    rate = world.stops_per_minute
    steady = brightness_after(spell.start_s, rate) * gathered_s(spell.open_s, rate)
    if not world.clouds.stops:
        return steady
    fastest_s = world.clouds.period_s / _PARTS[-1][0]
    looks = int(np.clip(_LOOKS * spell.open_s / fastest_s, 5, _MOST_LOOKS))
    at_s = spell.start_s + spell.open_s * (np.arange(looks) + 0.5) / looks
    return steady * float(np.exp2(wander_stops(at_s, world)).mean())


def wander_stops(at_s: NDArray[np.float64], world: World) -> NDArray[np.float64]:
    """Return how much brighter than its steady course the light is at moments of world time [stops]."""
    clouds = world.clouds
    phases = np.random.default_rng([world.seed, 5]).uniform(0, 2 * np.pi, len(_PARTS))
    waves = [
        share * np.sin(2 * np.pi * times * at_s / clouds.period_s + phase)
        for (times, share), phase in zip(_PARTS, phases, strict=True)
    ]
    return np.asarray(clouds.stops * np.sum(waves, axis=0), dtype=np.float64)
