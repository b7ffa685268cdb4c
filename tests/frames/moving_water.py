"""Frames of water of known motion: drawn foam, and the simulated landscape behind a filter of the right strength."""

from __future__ import annotations

from math import log2

import numpy as np

from tests.frames.simulated import shot
from tether.body.simulated.brushes import blobs
from tether.body.simulated.moving import Drifting, spectrum_of
from tether.body.simulated.world import SensorTruth, World
from tether.files.raw import RawFrame
from tether.frames.water import WaterBase, water_base

SHAPE = (800, 1200)
ALL = np.ones((400, 600), dtype=bool)
SPEED_PX_S = 1000.0
BASE_PX = 2.0


class Drawn:
    """Foam that drifts over a ground that stands still."""

    def __init__(self, seed: int, deg: float, grain_px: tuple[float, float] = (3.0, 3.0)) -> None:
        self.rng = np.random.default_rng(seed)
        velocity = SPEED_PX_S * np.sin(np.radians(deg)), SPEED_PX_S * np.cos(np.radians(deg))
        foam = np.exp(0.6 * blobs(SHAPE, self.rng, grain_px)).astype(np.float32)
        self.foam = Drifting(spectrum=spectrum_of(foam), shape=SHAPE, velocity_px_s=velocity)
        self.ground = np.clip(0.5 + 0.25 * blobs(SHAPE, self.rng, (60, 6)), 0, None)

    def frame(self, length_px: float, start_s: float, *, level: float = 1500.0, contrast: float = 1.0) -> RawFrame:
        """Return a frame in which the foam drifts so far."""
        seen = self.foam.averaged(start_s, length_px / SPEED_PX_S)
        light = level * (self.ground + 1.2 + contrast * (seen - 1.2))
        # Shot noise of 0.3 DN/e- and read noise.
        noise = np.sqrt(0.3 * np.maximum(light, 0) + 16) * self.rng.standard_normal(SHAPE)
        clipped = np.clip(np.rint(512 + light + noise), 0, 16383).astype(np.uint16)
        return RawFrame(mosaic=clipped, pattern="RGGB", black=(512.0,) * 4, white=16383)

    def base(self, length_px: float = BASE_PX, contrast: float = 1.0) -> WaterBase:
        """Return what is kept of two base frames."""
        one, other = (self.frame(length_px, start_s, contrast=contrast) for start_s in (0.0, 0.93))
        found = water_base(one, other, ALL)
        assert found is not None
        return found


WORLD = World(seed=1, sensor=SensorTruth(window_px=(900, 600)))
LARGE = World(seed=1, sensor=SensorTruth(window_px=(1600, 1200)))


def exposed(
    open_s: float,
    *,
    start_s: float,
    number: int,
    iso: float = 100.0,
    level_stops: float = -5.0,
    truth: World = WORLD,
) -> RawFrame:
    """Return a frame of the landscape whose rocks lie so far below clipping, as a filter of the right strength does."""
    brighter = log2(open_s / truth.base.time_s * iso / 100)
    world = truth.model_copy(update={"base_level_stops": level_stops - brighter})
    return shot(world, open_s=open_s, start_s=start_s, number=number, iso=iso)
