"""How well the base exposure is found: ``python -m tests.bench.base_search [N] [--still] [--frames 4] [--clips]``.

N simulated scenes, each with its own seed, light, speeds of the water and distance, and a start drawn from 8 stops to
either side of the truth; the whole way from the camera's settings to the file that is read, on a stepped clock. All
figures are of simulation.

The truth of a scene is the mean headroom of a series of frames at a known exposure near the right one, taken at moments
spread over a minute. Water that moves wanders about that mean from frame to frame, by a scatter that is printed: no
four frames can tell the mean better than half of it. With ``--still`` nothing moves: what is off is the search's own.

With ``--clips`` sensors are drawn too, of four kinds in turn: 0, one that clips where its file says; 1, one that clips
8 to 15 % under, by channel, spread from pixel to pixel, half of them with a knee; 2, that with steps of ISO and
f-number off by up to 0.1 stop and a rung at 1/1000 s; 3, that with 0.2 % of its pixels stuck. The truth is then by
where each pixel really clips, at the base's time or at the fastest rung's, whichever has less headroom.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from tests.plan.plans import plan_of
from tether.body.connection import SIMULATED
from tether.body.protocol import Settings
from tether.body.simulated.card import CardExposure, Spell
from tether.body.simulated.rendering import render
from tether.body.simulated.sensor import Sensor
from tether.body.simulated.world import Base, Clips, LensTruth, SceneTruth, SensorTruth, World
from tether.capture.base_search import FRAMES, BaseFound, find_base
from tether.capture.session import shooting
from tether.clock import SteppedClock
from tether.exposure.abilities import Abilities
from tether.exposure.marks import Mark, nearest
from tether.files.raw import RawFrame
from tether.frames.exposing import WANTED_STOPS
from tether.frames.levels import levels
from tether.outing.prepare import Prepared, prepare

APERTURE, ISO = 8.0, 100.0
#: Frames of the series that is the truth, and the time from one to the next [s].
SERIES, APART_S = 24, 2.37
#: A series in which a frame clips is taken again so much darker [stops].
_DARKER_STOPS = 1 / 3
OFF_STOPS = 8.0
#: Kinds of sensor, see above.
KINDS, FAST, STUCK = 4, 2, 3
FAST_S = 1 / 1000
PLAN = """
[base]
time = "1/30"
aperture = "f/8"
iso = 100
[rungs]
times = ["1/30"]
frames = 1
"""


@dataclass(frozen=True, kw_only=True)
class Result:
    """One scene: how far off the start and what was found were, and what was true [stops].

    `left_stops` is the true mean headroom at the mark that was found; `wander_stops` the scatter of single frames.
    """

    start_stops: float
    error_stops: float
    uncertainty_stops: float
    left_stops: float
    wander_stops: float
    frames: int
    kind: int = 0

    @property
    def within(self) -> bool:
        """Whether it is within 0.1 stop of the truth and twice what the wandering leaves of its frames' mean."""
        return abs(self.error_stops) <= 0.1 + 2 * self.wander_stops / math.sqrt(FRAMES)


def scene(seed: int, window_px: tuple[int, int], *, still: bool, kind: int = 0) -> World:
    """Return the world of a seed: light, speeds and distance are drawn; `kind` of sensor, 0 to 3."""
    rng = np.random.default_rng([seed, 77])
    pace = 0.0 if still else float(np.exp2(rng.uniform(-1, 1)))
    motion = SceneTruth(fall_m_s=2.2 * pace, run_m_s=1.4 * pace, pool_m_s=0.2 * pace, leaves_m=0.007 * min(pace, 1.0))
    return World(
        seed=seed,
        base=Base(time_s=float(np.exp2(rng.uniform(-5, -4))), aperture=APERTURE, iso=ISO),
        base_level_stops=float(rng.uniform(-2.7, -1.7)),
        sensor=SensorTruth(
            window_px=window_px, clips=Clips(drawn=kind > 0), stuck_share=0.002 if kind == STUCK else 0.0
        ),
        steps_off_stops=0.1 if kind == FAST else 0.0,
        lens=LensTruth(distance_m=float(rng.uniform(4, 16))),
        scene=motion,
    )


def without_clips(world: World) -> World:
    """Return a world whose sensor clips where its file says, with no pixel stuck."""
    sensor = world.sensor.model_copy(update={"clips": Clips(), "stuck_share": 0.0})
    return world.model_copy(update={"sensor": sensor, "steps_off_stops": 0.0})


def clips_of(world: World) -> NDArray[np.float64]:
    """Return at how much light each pixel really clips, as a share of what reaches white."""
    width, height = world.sensor.window_px
    sensor = Sensor(truth=world.sensor, base_iso=ISO, iso=ISO, temperature_c=20.0, seed=world.seed)
    shares = sensor.clip_shares((height, width))
    if shares is None:
        return np.ones((height, width))
    # Beyond a knee twice the light is needed.
    return np.asarray(shares * (1 + world.sensor.clips.really(world.seed).knee))


def headrooms(
    world: World, abilities: Abilities, time_s: float, frames: int, aperture: float = APERTURE
) -> Iterator[float | None]:
    """Yield the headroom of frames of a world at a time, at moments apart [stops]; None: more than may clips."""
    clips, world = clips_of(world), without_clips(world)
    for number in range(1, frames + 1):
        start_s = 60 + APART_S * number
        spell = Spell(start_s=start_s, end_s=start_s + time_s, fitted=(), capped=False, knock_px=(0.0, 0.0))
        exposure = CardExposure(
            number=1000 + number,
            settings=Settings(time="", aperture="", iso=""),
            aperture=aperture,
            iso=ISO,
            opened_utc=datetime.now(UTC),
            spells=(spell,),
            temperature_c=world.temperature_c,
            less_dark=False,
            exif_time_s=time_s,
            ready_ns=0,
        )
        sensor = world.sensor
        raw = render(exposure, world, abilities)
        above = (raw.astype(np.float64) - sensor.black) / np.minimum(clips, 1.0)
        raw = np.clip(np.rint(sensor.black + above), 0, sensor.white).astype(np.uint16)
        frame = RawFrame(mosaic=raw, pattern="RGGB", black=(float(sensor.black),) * 4, white=sensor.white)
        yield levels(frame).headroom_stops


def truth(world: World, abilities: Abilities, frames: int, fast_s: float | None = None) -> tuple[float, float]:
    """Return the time that leaves the wanted headroom, as log2 of seconds, and the scatter of single frames [stops].

    With `fast_s`, frames of that time and as much light count too, and of both means the lesser headroom.
    """
    at = -7.0
    for _ in range(3):  # from a guess far below to near the truth
        (headroom,) = headrooms(world, abilities, 2**at, 1)
        at += (-_DARKER_STOPS if headroom is None else headroom) - WANTED_STOPS
    while True:
        found = list(headrooms(world, abilities, 2**at, frames))
        sure = [one for one in found if one is not None]
        if len(sure) == len(found):
            fast_stops = _fast(world, abilities, 2**at, frames, fast_s) if fast_s and fast_s < 2**at else math.inf
            if fast_stops is not None:
                return at + min(float(np.mean(sure)), fast_stops) - WANTED_STOPS, float(np.std(sure))
        at -= _DARKER_STOPS


def _fast(world: World, abilities: Abilities, time_s: float, frames: int, fast_s: float) -> float | None:
    """Return the mean headroom of frames of a shorter time and as much light [stops]; None where one clips."""
    found = list(headrooms(world, abilities, fast_s, frames, APERTURE * math.sqrt(fast_s / time_s)))
    sure = [one for one in found if one is not None]
    return float(np.mean(sure)) if len(sure) == len(found) else None


def search(ready: Prepared, world: World, start: Mark, frames: int) -> BaseFound:
    """Find the base of a world as ``tether base`` does, from a start."""
    with shooting(SIMULATED, ready, world, clock=SteppedClock()) as session:
        return find_base(session, ready.plan, start=start, frames=frames)


def results(
    count: int,
    *,
    still: bool,
    frames: int = FRAMES,
    window_px: tuple[int, int],
    clips: bool = False,
    first: int = 1,
) -> Iterator[Result]:
    """Yield what comes of scenes, one after the other."""
    for seed in range(first, first + count):
        kind = seed % KINDS if clips else 0
        ready = prepare(plan_of(PLAN if kind != FAST else PLAN.replace('times = ["1/30"]', 'times = ["1/1000"]')))
        world = scene(seed, window_px, still=still, kind=kind)
        true, wander_stops = truth(
            world, ready.abilities, 1 if still else SERIES, fast_s=FAST_S if kind == FAST else None
        )
        off_stops = float(np.random.default_rng([seed, 78]).uniform(-OFF_STOPS, OFF_STOPS))
        start = nearest(ready.abilities.times, 2 ** (true + off_stops))
        found = search(ready, world, start, frames)
        at = math.log2(found.shot.time_s)
        yield Result(
            start_stops=math.log2(start.exact) - true,
            error_stops=at + found.headroom_stops - WANTED_STOPS - true,
            uncertainty_stops=found.uncertainty_stops,
            left_stops=true + WANTED_STOPS - at,
            wander_stops=wander_stops,
            frames=len(found.looked),
            kind=kind,
        )


def main() -> None:
    """Search in many scenes and print how far off it was."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("count", type=int, nargs="?", default=200)
    parser.add_argument("--still", action="store_true", help="nothing moves")
    parser.add_argument("--frames", type=int, default=FRAMES)
    parser.add_argument("--clips", action="store_true", help="draw sensors that clip as real ones do")
    parser.add_argument("--first", type=int, default=1, help="first seed")
    parser.add_argument("--window", type=int, nargs=2, default=(480, 320), metavar="PX")
    given = parser.parse_args()
    width, height = given.window
    done = list(
        results(
            given.count,
            still=given.still,
            frames=given.frames,
            window_px=(width, height),
            clips=given.clips,
            first=given.first,
        )
    )
    errors = np.array([one.error_stops for one in done])
    unsure = np.array([one.uncertainty_stops for one in done])
    left = np.array([one.left_stops for one in done])
    print(f"{len(done)} simulated scenes, starts {min(one.start_stops for one in done):+.1f} to", end=" ")
    print(f"{max(one.start_stops for one in done):+.1f} stops, at most {max(one.frames for one in done)} frames each")
    print(f"single frames scatter by {np.mean([one.wander_stops for one in done]):.3f} stops about the truth")
    for within in (0.1, 0.2, 0.3):
        print(f"within {within} stop of the truth: {(abs(errors) <= within).sum()} of {len(done)}")
    print(f"error: mean {errors.mean():+.3f}, scatter {errors.std():.3f}, largest {abs(errors).max():.3f} stops")
    print(f"error over its stated uncertainty: scatter {(errors / unsure).std():.2f} (1 is honest)")
    print(f"true headroom at the mark found: {left.min():.2f} to {left.max():.2f} stops, median {np.median(left):.2f}")
    print(f"clipped beyond the share at the mark found: {(left < 0).sum()} of {len(done)}")
    print(
        f"within 0.1 stop and twice the wandering over the root of n: {sum(one.within for one in done)} of {len(done)}"
    )
    for kind in sorted({one.kind for one in done}) if given.clips else ():
        of = [one for one in done if one.kind == kind]
        off = np.array([one.error_stops for one in of])
        within = sum(one.within for one in of)
        print(f"kind {kind}: {within} of {len(of)} within, error {off.mean():+.3f} ± {off.std():.3f}")


if __name__ == "__main__":
    main()
