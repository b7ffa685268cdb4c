"""How near the measured strength of a filter comes to the truth, in simulation.

Worlds are drawn with more in them than the estimator assumes: leaves and water that move, light that drifts by up to
0.3 stop/min and wanders by up to 0.1 stop within 40 s to 5 min, a cast, shutter times that are off, and in a fifth of
them a knock of up to 2 px. Goals: error within 0.02 stop, and the interval holds the truth in 90 to 99 of 100.

::

    python -m tests.bench.filter_strength [N] [how far clouds go, in stops]
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from tests.body.simulated.rig import ABILITIES, world
from tether.body.protocol import Fitted, Settings
from tether.body.simulated.card import CardExposure, Spell
from tether.body.simulated.rendering import render
from tether.body.simulated.world import World
from tether.exposure.marks import Mark, nearest
from tether.files.raw import RawFrame
from tether.frames.cells import cells
from tether.frames.levels import levels
from tether.frames.strength import Strength, StrengthFrame, strength

WITHOUT, WITH, MOST_ROUNDS, NARROW_STOPS = 16, 6, 4, 0.02
HEADROOM_STOPS = 1.5
APERTURE = 2.0**3.5
GOAL_STOPS = 0.02


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """A drawn world with a filter, and how the person and the shutter are in it: a change of filter [s], frames [s]."""

    world: World
    filter: Fitted
    change_s: float
    pause_s: float


def draw(seed: int, *, clouds_stops: float = 0.1, knocked: bool | None = None, leak_e_s: float = 0.0) -> Drawn:
    """Draw a world."""
    rng = np.random.default_rng([seed, 77])
    stops = float(rng.choice([3.0, 6.0, 10.0]))
    knock = bool(rng.random() < 0.2) if knocked is None else knocked
    before, (right, down) = int(rng.integers(2, 2 * WITHOUT + WITH)), rng.uniform(-1.4, 1.4, 2)
    times = {mark.label: mark.exact * 2.0 ** rng.normal(0, 0.005) for mark in ABILITIES.times}
    truth = world(
        seed=seed,
        base_level_stops=-3.5,
        stops_per_minute=rng.uniform(-0.3, 0.3),
        clouds={"stops": rng.uniform(0, clouds_stops), "period_s": math.exp(rng.uniform(math.log(40), math.log(300)))},
        knocks=({"before_frame": before, "right_px": right, "down_px": down},) if knock else (),
        filters={
            "glass": {
                "stops": stops * rng.uniform(0.9, 1.1),
                "cast_stops": (rng.normal(0, 0.1), 0.0, rng.normal(0, 0.1)),
            }
        },
        true_times_s=times,
        leak_e_s=leak_e_s,
    )
    return Drawn(
        world=truth,
        filter=Fitted(name="glass", stops=stops),
        change_s=float(rng.uniform(15, 45)),
        pause_s=float(rng.uniform(3, 5)),
    )


class Person:
    """Takes the frames of a measurement in a drawn world."""

    def __init__(self, drawn: Drawn) -> None:
        self._drawn = drawn
        self._now_s = 5.0
        self._made = 0
        self._time_s = drawn.world.base.time_s

    def shots(self, *, filtered: bool, count: int) -> Iterator[StrengthFrame]:
        """Change the filter and take some frames, at a time by how the last frame before it came out."""
        self._now_s += self._drawn.change_s
        time = nearest(ABILITIES.times, self._time_s * 2.0 ** (self._drawn.filter.stops if filtered else 0.0))
        for _ in range(count):
            yield self._shot(time, filtered)
            self._now_s += self._drawn.pause_s

    def _shot(self, time: Mark, filtered: bool) -> StrengthFrame:
        drawn, truth = self._drawn, self._drawn.world
        self._made += 1
        open_s, began_s = truth.true_times_s[time.label], self._now_s
        self._now_s += open_s
        exposure = exposure_of(truth, self._made, time, began_s, open_s, (drawn.filter,) if filtered else ())
        frame = developed(exposure, truth)
        if not filtered:
            self._time_s = time.exact * 2.0 ** ((levels(frame).headroom_stops or 0.0) - HEADROOM_STOPS)
        return StrengthFrame(
            cells=cells(frame),
            filtered=filtered,
            exposure_stops=math.log2(time.exact),
            at_s=began_s + time.exact / 2,
            open_s=time.exact,
        )


def exposure_of(
    truth: World, number: int, time: Mark, began_s: float, open_s: float, fitted: tuple[Fitted, ...]
) -> CardExposure:
    """Return the record of an exposure, as a simulated body keeps it."""
    spell = Spell(start_s=began_s, end_s=began_s + open_s, fitted=fitted, capped=False, knock_px=(0.0, 0.0))
    return CardExposure(
        number=number,
        settings=Settings(time=time.label, aperture="f/11", iso="100"),
        aperture=APERTURE,
        iso=100.0,
        opened_utc=datetime(2026, 1, 1, tzinfo=UTC),
        spells=(spell,),
        temperature_c=truth.temperature_c,
        less_dark=False,
        exif_time_s=open_s,
        ready_ns=0,
    )


def developed(exposure: CardExposure, truth: World) -> RawFrame:
    """Return the raw frame of an exposure without the way through a file."""
    raw = render(exposure, truth, ABILITIES)
    return RawFrame(mosaic=raw, pattern="RGGB", black=(float(truth.sensor.black),) * 4, white=truth.sensor.white)


def measured(drawn: Drawn, most_rounds: int = MOST_ROUNDS) -> tuple[Strength, int]:
    """Measure as the command does: on and off, and again while the interval is too wide; return the rounds too."""
    person = Person(drawn)
    shots = list(person.shots(filtered=False, count=WITHOUT))
    rounds = 0
    while True:
        rounds += 1
        shots += person.shots(filtered=True, count=WITH)
        shots += person.shots(filtered=False, count=WITHOUT)
        found = strength(shots)
        if found.stops["G"].half_width <= NARROW_STOPS or rounds == most_rounds:
            return found, rounds


def errors(drawn: Drawn, found: Strength) -> tuple[float, float, float]:
    """Return by how much green, and red and blue against it, are off [stops]."""
    red, green, blue = drawn.world.filter_stops(drawn.filter)
    return (
        found.stops["G"].value - green,
        found.cast_stops["R"].value - (red - green),
        found.cast_stops["B"].value - (blue - green),
    )


def show(name: str, off: NDArray[np.float64], half: NDArray[np.float64]) -> None:
    """Print how far one value is off over all worlds, and how often its interval holds the truth."""
    print(
        f"{name:13} rms {np.sqrt((off**2).mean()):.4f}  95 % {np.quantile(off, 0.95):.4f}  most {off.max():.4f}"
        f"  half width {np.median(half):.4f}  within {GOAL_STOPS}: {np.mean(off <= GOAL_STOPS):.1%}"
        f"  interval holds it: {np.mean(off <= half):.1%}"
    )


def main() -> None:
    """Measure in many drawn worlds and print how far the results are off."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    clouds_stops = float(sys.argv[2]) if len(sys.argv) > 2 else 0.1
    rows, took = [], []
    for seed in range(count):
        drawn = draw(seed, clouds_stops=clouds_stops)
        found, rounds = measured(drawn)
        intervals = (found.stops["G"], found.cast_stops["R"], found.cast_stops["B"])
        rows.append([*errors(drawn, found), *(one.half_width for one in intervals)])
        took.append((rounds, found.moved, bool(drawn.world.knocks), found.leak_stops is not None))
    table, (rounds_each, moved, knocked, leaks) = np.abs(rows), np.array(took, dtype=int).T
    print(f"{count} simulated worlds, {WITHOUT} frames without and {WITH} with, up to {MOST_ROUNDS} rounds [stops]")
    for column, name in enumerate(("green", "red - green", "blue - green")):
        show(name, table[:, column], table[:, column + 3])
    narrow = table[:, 3] <= NARROW_STOPS
    print(f"worlds by rounds from 1 on: {np.bincount(rounds_each)[1:].tolist()}")
    if narrow.any():
        show("green, narrow", table[narrow, 0], table[narrow, 3])
    print(f"knocked {knocked.sum()}, told {(moved & knocked).sum()}, told wrongly {(moved & ~knocked & 1).sum()}")
    print(f"leaks told where there is none: {leaks.sum()}")


if __name__ == "__main__":
    main()
