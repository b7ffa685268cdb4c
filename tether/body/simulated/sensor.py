"""From light on the sensor to raw numbers: a Bayer mosaic with shot noise, dark current, read noise and clipping.

Numbers of electrons are per pixel. The sensor is set by one fact: at base ISO it clips at the focal-plane exposure
78 lx s / ISO (saturation-based speed, ISO 12232), which is then `full_well_e` electrons in a green pixel.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp2

import numpy as np
from numpy.typing import NDArray

from tether.body.simulated.scene import Picture
from tether.body.simulated.world import Clips, SensorTruth
from tether.files.dng import SRGB_SENSOR, Matrix, SensorLevels

Raw = NDArray[np.uint16]

#: H = q L t / N² with q = 0.65, and H_sat = 78 / S: ISO 12232:2006.
Q = 0.65
SATURATION_LX_S = 78.0
#: What a neutral grey gives in red, green and blue, relative to green. Own choice, of the kind found in daylight.
NEUTRAL = (0.50, 1.0, 0.62)
#: The wells hold a little more than the converter can tell, so that a burnt pixel reads exactly `white`.
WELL_OVER_WHITE = 1.03
REFERENCE_C = 20.0


@dataclass(frozen=True, kw_only=True)
class Sensor:
    """A sensor as one exposure finds it.

    Attributes
    ----------
    truth
        Its constants.
    base_iso, iso
        Lowest ISO that is not extended, and ISO in force. Below base the gain stays, and headroom is lost.
    temperature_c
        Temperature [°C].
    seed
        Of hot and stuck pixels and of where each clips; noise is drawn from the generators given to the methods.
    gain_off_stops
        How much brighter this ISO is than it says [stops].
    """

    truth: SensorTruth
    base_iso: float
    iso: float
    temperature_c: float
    seed: int
    gain_off_stops: float = 0.0

    @property
    def gain(self) -> float:
        """Raw numbers for one electron [DN/e-]."""
        span = self.truth.white - self.truth.black
        return span / self.truth.full_well_e * max(1.0, self.iso / self.base_iso) * exp2(self.gain_off_stops)

    def electrons_per_cd_m2(self, aperture: float, gathered_s: float) -> float:
        """Return electrons in a green pixel for each cd/m² of the scene, without a filter."""
        exposure_lx_s = Q * gathered_s / aperture**2
        return self.truth.full_well_e * exposure_lx_s * self.base_iso / SATURATION_LX_S

    def dark_electrons(self, open_s: float) -> NDArray[np.float64]:
        """Return the mean dark electrons of every pixel of the window, hot ones included, shape (height, width)."""
        width, height = self.truth.window_px
        rng = np.random.default_rng([self.seed, 2])
        rate = np.full((height, width), self.truth.dark_e_s)
        hot = rng.random((height, width)) < self.truth.hot_share
        rate[hot] += rng.exponential(self.truth.hot_e_s, np.count_nonzero(hot))
        warmth = 2.0 ** ((self.temperature_c - REFERENCE_C) / self.truth.dark_doubling_c)
        return np.asarray(rate * (warmth * open_s), dtype=np.float64)

    def read(self, electrons: NDArray[np.float64], rng: np.random.Generator) -> Raw:
        """Return raw numbers for mean electrons (light and dark): shot noise, full well, read noise, clipping."""
        caught = self._clipped(np.asarray(rng.poisson(electrons), dtype=np.float64))
        caught += self.truth.read_noise_e * rng.standard_normal(electrons.shape)
        numbers = np.rint(self.truth.black + self.gain * caught)
        return np.asarray(np.clip(numbers, 0, self.truth.white), dtype=np.uint16)

    def _clipped(self, caught: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return what is left of electrons where pixels clip, before they are read."""
        shares = self.clip_shares(caught.shape)
        if shares is None:
            left = np.minimum(caught, WELL_OVER_WHITE * self.truth.full_well_e)
        else:
            top = shares * (self.truth.white - self.truth.black) / self.gain
            bends = top * (1 - self.truth.clips.really(self.seed).knee)
            left = np.minimum(np.where(caught > bends, (caught + bends) / 2, caught), top)
        return self._stuck(left)

    def clip_shares(self, shape: tuple[int, ...]) -> NDArray[np.float64] | None:
        """Return where each pixel clips, as a share of the way from black to white; None: where white is, all."""
        clips = self.truth.clips.really(self.seed)
        if clips == Clips():
            return None
        spread = clips.spread * np.random.default_rng([self.seed, 10]).standard_normal(shape)
        under = np.array([clips.under[channel] for channel in (0, 1, 1, 2)]).reshape(2, 2)
        by_place = np.tile(1 - under, (shape[0] // 2, shape[1] // 2))
        return np.asarray(np.minimum(by_place * (1 + spread), 1.0))

    def _stuck(self, caught: NDArray[np.float64]) -> NDArray[np.float64]:
        if self.truth.stuck_share:
            rng = np.random.default_rng([self.seed, 11])
            stuck = rng.random(caught.shape) < self.truth.stuck_share
            full = (self.truth.white - self.truth.black) / self.gain
            caught[stuck] = full * rng.uniform(0.5, 1.0, np.count_nonzero(stuck))
        return caught

    def less_dark(self, raw: Raw, dark: Raw) -> Raw:
        """Return a frame less a dark one, as a body does it by itself; the black level stays."""
        numbers = raw.astype(np.int32) - dark + self.truth.black
        return np.asarray(np.clip(numbers, 0, self.truth.white), dtype=np.uint16)

    def levels(self) -> SensorLevels:
        """Return what the raw numbers mean, as a file tells it."""
        span = self.truth.white - self.truth.black
        floor = ((self.gain * self.truth.read_noise_e) ** 2 + 1 / 12) / span**2
        return SensorLevels(
            black=self.truth.black,
            white=self.truth.white,
            as_shot_neutral=NEUTRAL,
            color_matrix=_matrix(),
            noise=(self.gain / span, floor),
        )


def mosaic(picture: Picture) -> NDArray[np.float64]:
    """Return, from a picture of shape (3, height, width), each pixel's own colour of an RGGB mosaic."""
    pixels = np.empty(picture.shape[1:], dtype=np.float64)
    for (row, column), channel in {(0, 0): 0, (0, 1): 1, (1, 0): 1, (1, 1): 2}.items():
        pixels[row::2, column::2] = NEUTRAL[channel] * picture[channel, row::2, column::2]
    return pixels


def preview(raw: Raw, levels: SensorLevels) -> NDArray[np.uint8]:
    """Return a small sRGB picture of an RGGB mosaic, half its size, as a body would show it, shape (h, w, 3)."""
    linear = np.clip((raw.astype(np.float32) - levels.black) / (levels.white - levels.black), 0, 1)
    green = (linear[0::2, 1::2] + linear[1::2, 0::2]) / 2
    channels = (linear[0::2, 0::2] / NEUTRAL[0], green, linear[1::2, 1::2] / NEUTRAL[2])
    shown = np.clip(np.stack(channels, axis=-1), 0, 1)
    curved = np.where(shown <= 0.0031308, 12.92 * shown, 1.055 * shown ** (1 / 2.4) - 0.055)  # IEC 61966-2-1
    return np.asarray(np.rint(255 * curved), dtype=np.uint8)


def _matrix() -> Matrix:
    red, green, blue = (tuple(NEUTRAL[row] * value for value in SRGB_SENSOR[row]) for row in range(3))
    return red, green, blue  # type: ignore[return-value]
