"""How surely a knock of 2 px is found, and how rarely one that was not: ``python -m tests.bench.knocks [FRAMES]``.

On the simulated landscape, with drawn scenes, apertures f/5.6 to f/22, ISO 100 to 6400, levels from six stops under
the base frame to one above, clouds, and a corner of leaves and water counted among the still rocks. Every other frame
is knocked. Goals: 99 % of the knocks found where three electrons or more are in a pixel, under 1 % false alarms.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from math import cos, hypot, inf, pi, sin

import numpy as np
from numpy.typing import NDArray

from tests.body.simulated.rig import PITCH_UM
from tests.frames.simulated import F11, shot, still_of
from tether.body.simulated.world import Clouds, SensorTruth, World
from tether.frames.stillness import diffraction, reference, stillness
from tether.frames.verdict import LikelyCause, verdict
from tether.journal.readings import Stillness, lost_beyond

FRAMES = 400
PER_SCENE = 20
KNOCK_PX = 2.0
BASE_S = 2.0**-6


@dataclass(frozen=True, kw_only=True)
class Tried:
    """One frame: electrons in a green pixel of the rocks on average, its true shift, and what was found."""

    electrons: float
    right_px: float
    down_px: float
    found: Stillness | None
    said: LikelyCause | None
    lost: float | None

    @property
    def knocked(self) -> bool:
        """Whether it was knocked."""
        return (self.right_px, self.down_px) != (0.0, 0.0)

    @property
    def error_px(self) -> float | None:
        """How far the shift that was found is from the true one [px]."""
        found = self.found
        return None if found is None else hypot(found.right_px - self.right_px, found.down_px - self.down_px)


def tried(seed: int, frames: int) -> list[Tried]:
    """Return what was found in frames of one scene."""
    rng = np.random.default_rng([seed, 77])
    world = World(seed=seed, sensor=SensorTruth(window_px=(900, 600)), clouds=Clouds(stops=0.5, period_s=20))
    base_frame = shot(world, open_s=BASE_S)
    base = reference(base_frame, still_of(world) | _corner(rng))
    if base is None:
        raise RuntimeError(f"scene {seed} has too little texture")
    results = []
    for number in range(frames):
        aperture, iso = 2.0 ** rng.uniform(2.5, 4.5), 100 * 2.0 ** rng.uniform(0, 6)
        under = rng.uniform(-1, 6)
        open_s = BASE_S * 2.0**-under * (aperture / F11) ** 2 * 100 / iso
        angle = rng.uniform(0, 2 * pi)
        knock = (KNOCK_PX * cos(angle), KNOCK_PX * sin(angle)) if number % 2 else (0.0, 0.0)
        start_s = 5.0 + 10 * number
        frame = shot(
            world,
            open_s=open_s,
            start_s=start_s,
            number=number + 2,
            aperture=aperture,
            iso=iso,
            stretches=((1.0, knock),),
        )
        found = stillness(base, frame)
        expected = diffraction(base, F11, aperture, PITCH_UM)
        results.append(
            Tried(
                electrons=world.sensor.full_well_e * 2.0 ** (world.base_level_stops - under) * 100 / iso,
                right_px=knock[0],
                down_px=knock[1],
                found=found,
                said=verdict(found, expected=expected) if found else None,
                lost=lost_beyond(found.sharpness, expected) if found else None,
            )
        )
    return results


def _corner(rng: np.random.Generator) -> NDArray[np.bool_]:
    """Return a part of the plane, a tenth of it, that is counted as still whatever is there."""
    corner = np.zeros((300, 450), dtype=bool)
    row, column = rng.integers(0, 205), rng.integers(0, 308)
    corner[row : row + 95, column : column + 142] = True
    return corner


def told(results: list[Tried]) -> str:
    """Return the figures of some frames as a line."""
    knocked = [one for one in results if one.knocked]
    at_rest = [one for one in results if not one.knocked]
    missed = sum(one.found is not None and (one.said is None or one.said.cause != "knock") for one in knocked)
    silent = sum(one.found is None for one in knocked)
    false = sum(one.said is not None for one in at_rest)
    errors = [one.error_px for one in results if one.error_px is not None]
    lost = [one.lost for one in results if one.lost is not None]
    vague = sum(one.found is not None and one.lost is None for one in results)
    return (
        f"{len(knocked)} knocked, of these {missed} not called a knock and {silent} too dark to tell; "
        f"{len(at_rest)} at rest, {false} false alarms; "
        f"shift off by {np.median(errors):.3f} px (median), {np.quantile(errors, 0.99):.3f} px (99 %); "
        f"loss beside diffraction {np.mean(lost):+.3f} ± {np.std(lost):.3f}, {np.max(np.abs(lost)):.2f} at worst; "
        f"{vague} times only the shift told"
    )


def main(frames: int) -> None:
    """Print the figures, over all and by light: the darkest frames at the highest ISO have an electron in a pixel."""
    results = [one for seed in range(-(-frames // PER_SCENE)) for one in tried(seed, PER_SCENE)]
    print("simulated, all:", told(results))
    for low, high in ((100, inf), (10, 100), (3, 10), (0, 3)):
        print(f"{low} to {high} electrons:", told([one for one in results if low <= one.electrons < high]))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else FRAMES)
