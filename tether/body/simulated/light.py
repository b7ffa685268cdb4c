"""The light of the simulated world over time: by a steady pace or by the sun, and clouds let it wander beside that."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from tether.body.simulated.card import Spell
from tether.body.simulated.world import Sun, World
from tether.light.course import Course
from tether.light.falling import brightness_after, gathered_s
from tether.light.spot import Spot

#: The parts that the wander is made of: how many times as fast as the slowest, and how strong.
_PARTS = ((1.0, 0.5), (1.7, 0.25), (3.1, 0.15), (6.7, 0.1))
#: An opening is looked at so often for each period of its fastest part, and no oftener than so often altogether.
_LOOKS, _MOST_LOOKS = 16.0, 20_000


def light_s(spell: Spell, world: World) -> float:
    """Return the light of a spell in seconds of the light at world time zero, clouds apart."""
    if world.light:
        return Course(points=world.light, then_stops_per_minute=0.0).gathered_s(spell.start_s, spell.open_s) or 0.0
    if world.sun and spell.start_utc:
        steady = _by_the_sun_s(spell.start_utc, spell.open_s, world.sun)
    else:
        rate = world.stops_per_minute
        steady = brightness_after(spell.start_s, rate) * gathered_s(spell.open_s, rate)
    if not world.clouds.stops:
        return steady
    fastest_s = world.clouds.period_s / _PARTS[-1][0]
    looks = int(np.clip(_LOOKS * spell.open_s / fastest_s, 5, _MOST_LOOKS))
    at_s = spell.start_s + spell.open_s * (np.arange(looks) + 0.5) / looks
    return steady * float(np.exp2(wander_stops(at_s, world)).mean())


def _by_the_sun_s(start: datetime, open_s: float, sun: Sun) -> float:
    """Return the light of an opening in seconds of the light at which the base is right; minute by minute, or finer."""
    pieces = max(math.ceil(open_s / 60), 1)
    moments = [open_s * piece / pieces for piece in range(pieces + 1)]
    points = tuple((at_s, _sun_stops(start + timedelta(seconds=at_s), sun)) for at_s in moments)
    return Course(points=points, then_stops_per_minute=0.0).gathered_s(0.0, open_s) or 0.0


def _sun_stops(at: datetime, sun: Sun) -> float:
    """Return the light against that at which the base is right [stops]; from the end of twilight on it stays."""
    from tether.light.sun import ASTRONOMICAL, altitude  # it loads what only a world with a sun needs
    from tether.light.twilight import light_stops

    spot, late = Spot(latitude=sun.latitude, longitude=sun.longitude), timedelta(seconds=sun.late_s)
    now, base = (light_stops(max(altitude(spot, utc - late), ASTRONOMICAL)) or 0.0 for utc in (at, sun.base_utc))
    return sun.pace * (now - base)


def wander_stops(at_s: NDArray[np.float64], world: World) -> NDArray[np.float64]:
    """Return how much brighter than its steady course the light is at moments of world time [stops]."""
    clouds = world.clouds
    phases = np.random.default_rng([world.seed, 5]).uniform(0, 2 * np.pi, len(_PARTS))
    waves = [
        share * np.sin(2 * np.pi * times * at_s / clouds.period_s + phase)
        for (times, share), phase in zip(_PARTS, phases, strict=True)
    ]
    return np.asarray(clouds.stops * np.sum(waves, axis=0), dtype=np.float64)
