"""Frames of the simulated landscape, with the truth of what is still and what is water."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.body.simulated.rig import PITCH_UM, Rig, world
from tether.body.protocol import Fitted, SceneChange
from tether.body.simulated.rendering import scene_of
from tether.body.simulated.world import SensorTruth
from tether.files.raw import RawFrame, read_raw

Mask = NDArray[np.bool_]


class Scene:
    """A simulated body before its landscape; what it takes is read back from its files."""

    def __init__(self, folder: Path, *, window_px: tuple[int, int] = (480, 320), **truth: object) -> None:
        self.rig = Rig(folder, world(sensor=SensorTruth(window_px=window_px), **truth))

    def frame(self, time: str = "1/60", aperture: str = "f/11", iso: str = "100") -> RawFrame:
        """Take a timed frame."""
        return read_raw(self.path(time, aperture, iso))

    def path(self, time: str = "1/60", aperture: str = "f/11", iso: str = "100") -> Path:
        """Take a timed frame and return where its file is."""
        self.rig.set(time, aperture, iso)
        self.rig.body.take()
        file = self.rig.newest()
        self.rig.mosaic(file)
        return self.rig.path(file)

    def fit(self, name: str | None, stops: float = 0.0) -> None:
        """Put a filter on, or take all off."""
        self.rig.body.stage(SceneChange(fitted=(Fitted(name=name, stops=stops),) if name else ()))

    @property
    def still(self) -> Mask:
        """Where, in a plane, rocks stand that nothing moving comes near."""
        return _in_plane(scene_of(self.rig.truth, PITCH_UM).still)

    @property
    def wet(self) -> Mask:
        """Where, in a plane, there is only water."""
        return _in_plane(scene_of(self.rig.truth, PITCH_UM).wet)


def _in_plane(mask: Mask) -> Mask:
    return np.asarray(mask[0::2, 0::2] & mask[1::2, 1::2])
