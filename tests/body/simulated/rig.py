"""A simulated body on a stepped clock, with a small window so that frames are quick to make."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tether.body.protocol import BULB, CardFile, Settings
from tether.body.simulated.body import SimulatedBody
from tether.body.simulated.rendering import scene_of
from tether.body.simulated.world import SensorTruth, World
from tether.clock import SteppedClock, to_ns
from tether.exposure.abilities import Abilities
from tether.exposure.marks import Step, aperture_marks, iso_marks, time_marks
from tether.files.raw import read_raw

PITCH_UM = 4.35
ABILITIES = Abilities(
    name="Simulated body",
    simulated=True,
    tried=None,
    times=tuple(mark for mark in time_marks(Step.THIRD) if 2**-13 <= mark.exact <= 32),
    apertures=tuple(mark for mark in aperture_marks(Step.THIRD) if 2.7 <= mark.exact <= 23),
    isos=tuple(mark for mark in iso_marks(Step.THIRD) if 49 <= mark.exact <= 26_000),
    base_iso=100.0,
    can_hold=True,
    longest_hold_s=7200.0,
    shortest_hold_s=1.0,
    open_delay_s=0.060,
    close_delay_s=0.045,
    delay_uncertainty_s=0.005,
    pitch_um=PITCH_UM,
    sensor_mm=(35.9, 23.9),
    optical_finder=False,
    dark_frame_by_body=True,
    fetch_s=0.5,
    frame_bytes=200_000,
)
SMALL = SensorTruth(window_px=(300, 200))


def world(**truth: Any) -> World:
    """Return a world with a small window and shutters without delay, changed as told."""
    quick = {"sensor": SMALL, "open_delay_s": 0.0, "close_delay_s": 0.0, "delay_jitter_s": 0.0}
    return World(**(quick | truth))


class Rig:
    """A body in a folder, and the hands that work it."""

    def __init__(self, folder: Path, truth: World, clock: SteppedClock | None = None) -> None:
        self.folder = folder
        self.truth = truth
        self.clock = clock or SteppedClock()
        self.body = SimulatedBody(ABILITIES, truth, folder, self.clock)

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        self.clock.wait_until(self.clock.now_ns() + to_ns(seconds))

    def set(self, time: str, aperture: str = "f/11", iso: str = "100") -> None:
        """Set all three dials."""
        self.body.apply(Settings(time=time, aperture=aperture, iso=iso))

    def shoot(self, time: str, aperture: str = "f/11", iso: str = "100") -> NDArray[np.uint16]:
        """Take a timed frame and return its raw numbers, read from the file."""
        self.set(time, aperture, iso)
        self.body.take()
        return self.mosaic(self.newest())

    def hold(self, seconds: float, aperture: str = "f/11", iso: str = "100") -> NDArray[np.uint16]:
        """Hold a frame for some seconds between the commands and return its raw numbers, read from the file."""
        self.set(BULB, aperture, iso)
        opened_ns = self.clock.now_ns()
        self.body.open_shutter()
        self.clock.wait_until(opened_ns + to_ns(seconds))
        self.body.close_shutter()
        return self.mosaic(self.newest())

    def newest(self) -> CardFile:
        """Return the file that the last exposure brought."""
        (file,) = self.body.new_files(1, 100.0)
        return file

    def mosaic(self, file: CardFile) -> NDArray[np.uint16]:
        """Fetch a file and return its raw numbers."""
        self.body.fetch(file, self.path(file))
        return read_raw(self.path(file)).mosaic

    def path(self, file: CardFile) -> Path:
        """Return where a fetched file is."""
        return self.folder / file.name

    def openings(self, what: str) -> list[dict[str, Any]]:
        """Return the lines of one kind from the body's own record."""
        lines = (self.folder / "openings.jsonl").read_text(encoding="utf-8").splitlines()
        return [line for line in map(json.loads, lines) if line["what"] == what]

    def still_stops(self, mosaic: NDArray[np.uint16]) -> float:
        """Return the mean green level of the still rocks, in stops from clipping."""
        return level_stops(mosaic, scene_of(self.truth, PITCH_UM).still, self.truth.sensor)


def level_stops(mosaic: NDArray[np.uint16], where: NDArray[np.bool_], sensor: SensorTruth) -> float:
    """Return the mean level of the green pixels of a region, in stops from clipping."""
    green = np.zeros_like(where)
    green[0::2, 1::2] = green[1::2, 0::2] = True
    mean = float(mosaic[where & green].mean())
    return math.log2((mean - sensor.black) / (sensor.white - sensor.black))
