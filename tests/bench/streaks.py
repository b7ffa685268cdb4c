"""How well the length of a streak is found: ``python -m tests.bench.streaks [SCENES]``.

On drawn foam that drifts one way, and on the fall of the simulated landscape, whose layers run at 0.8 to 1.1 times its
speed; the base frames have 1/2048 s there. The error is that of one frame, in shares of the true length.
"""

from __future__ import annotations

import sys

import numpy as np

from tests.body.simulated.rig import PITCH_UM
from tests.frames.moving_water import BASE_PX, Drawn, exposed
from tests.frames.simulated import wet_of
from tether.body.simulated.world import SensorTruth, World
from tether.exposure.optics import streak_px
from tether.frames.water import streak, water_base
from tether.journal.readings import StreakSaid

SCENES = 12
LENGTHS_PX = (10, 20, 40, 80, 120, 300)
TIMES = (-8, -7, -6, -5, -4, -2)

Found = list[StreakSaid]


def told(true_px: float, found: Found) -> str:
    """Return what was found of streaks of one length, as a line."""
    lengths = np.array([one.length_px for one in found if one.length_px is not None])
    whys = sorted({one.why for one in found if one.why is not None})
    unmeasured = f"{len(found) - len(lengths)} of {len(found)} not measured {' '.join(whys)}"
    if not len(lengths):
        return f"{true_px:6.1f} px: {unmeasured}"
    off = lengths / true_px - 1
    claimed = np.median([one.uncertainty_px / true_px for one in found if one.uncertainty_px is not None])
    return (
        f"{true_px:6.1f} px: off by {off.mean():+.2f} ± {off.std():.2f} (claimed ± {claimed:.2f}), "
        f"{np.abs(off).max():.2f} at worst; {unmeasured}"
    )


def drawn(scenes: int) -> dict[float, Found]:
    """Return what is found of drawn foam, by true length."""
    results: dict[float, Found] = {}
    for seed in range(scenes):
        rng = np.random.default_rng([seed, 78])
        foam = Drawn(seed, rng.uniform(0, 180), (rng.uniform(2, 6), rng.uniform(2, 6)))
        base = foam.base()
        for length in LENGTHS_PX:
            frame = foam.frame(length, rng.uniform(2, 5), level=600.0)
            results.setdefault(length, []).append(streak(base, frame, base_share=BASE_PX / length))
    return results


def fallen(scenes: int) -> dict[float, Found]:
    """Return what is found of the landscape's fall, by predicted length."""
    results: dict[float, Found] = {}
    for seed in range(scenes):
        world = World(seed=seed, sensor=SensorTruth(window_px=(1600, 1200)))
        fall = wet_of(world)
        fall[300:] = False
        one, other = (
            exposed(2.0**-11, start_s=start_s, number=number, iso=1600.0, truth=world)
            for number, start_s in ((1, 0.0), (2, 7.3))
        )
        base = water_base(one, other, fall)
        if base is None:
            continue
        lens = {"focal_mm": world.lens.focal_mm, "distance_m": world.lens.distance_m, "pitch_um": PITCH_UM}
        for e in TIMES:
            frame = exposed(2.0**e, start_s=20.0 + seed, number=9, truth=world)
            predicted = streak_px(world.scene.fall_m_s, 2.0**e, **lens)
            results.setdefault(predicted, []).append(streak(base, frame, base_share=2.0 ** (-11 - e)))
    return results


def main(scenes: int) -> None:
    """Print the figures by length."""
    for what, results in (("drawn foam", drawn(scenes)), ("simulated fall", fallen(scenes))):
        print(what)
        for true_px, found in results.items():
            print(" ", told(true_px, found))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else SCENES)
