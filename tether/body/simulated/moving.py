"""Things that move while the shutter is open, averaged over the opening in the Fourier domain.

A texture that drifts by a constant velocity v is, at spatial frequency k, its spectrum times exp(-i k·v t). The mean of
that over an opening of T seconds around its middle is exp(-i k·v t_mid) · sinc(k·v T / 2), exactly, whatever T is. So a
frozen drop, a streak and silk cost the same and carry the same light: the term at k = 0 never changes.

Textures are periodic over their own patch. Distances are pixels, y down and x to the right, in that order.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Field = NDArray[np.float32]
Spectrum = NDArray[np.complex64]

#: Moments at which a swing is sampled: two pixels apart at most for a swing of 8 px sampled over four periods.
SWAY_SAMPLES = 96
#: From so many periods on, the mean over an opening is taken to be the mean over one whole period.
MANY_PERIODS = 4


def spectrum_of(field: Field) -> Spectrum:
    """Return the half spectrum of a real field of shape (height, width)."""
    return np.asarray(np.fft.rfft2(field), dtype=np.complex64)


def field_of(spectrum: Spectrum, shape: tuple[int, int]) -> Field:
    """Return the real field of shape (height, width) that a half spectrum stands for."""
    return np.asarray(np.fft.irfft2(spectrum, s=shape), dtype=np.float32)


def frequencies(shape: tuple[int, int]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the spatial frequencies [cycles/px] of a half spectrum: a column (down) and a row (right)."""
    height, width = shape
    down = np.arange(height, dtype=np.float64)
    down[(height + 1) // 2 :] -= height
    return down[:, None] / height, np.arange(width // 2 + 1, dtype=np.float64)[None, :] / width


def shift_phase(shape: tuple[int, int], down_px: float, right_px: float) -> Spectrum:
    """Return the factor that moves a field of `shape` by a distance [px], fractions included."""
    fy, fx = frequencies(shape)
    return np.asarray(np.exp(-2j * np.pi * fy * down_px) * np.exp(-2j * np.pi * fx * right_px), dtype=np.complex64)


@dataclass(frozen=True, kw_only=True)
class Drifting:
    """A periodic texture that drifts at a constant velocity.

    Attributes
    ----------
    spectrum
        Half spectrum of the texture at world time zero.
    shape
        Height and width of the texture [px].
    velocity_px_s
        Velocity down and to the right [px/s].
    """

    spectrum: Spectrum
    shape: tuple[int, int]
    velocity_px_s: tuple[float, float]

    def averaged(self, start_s: float, open_s: float) -> Field:
        """Return the texture's mean over an opening that starts at `start_s` of world time and lasts `open_s`."""
        fy, fx = frequencies(self.shape)
        down, right = self.velocity_px_s
        middle_s = start_s + open_s / 2
        smear = np.sinc(fy * (down * open_s) + fx * (right * open_s)).astype(np.float32)
        moved = shift_phase(self.shape, down * middle_s, right * middle_s)
        return field_of(self.spectrum * smear * moved, self.shape)


@dataclass(frozen=True, kw_only=True)
class Swaying:
    """A thing that swings to and fro: what it covers, and the light that comes from it.

    Attributes
    ----------
    cover, light
        Half spectra of how much is covered (0..1) and of cover × luminance.
    shape
        Height and width of the patch [px].
    reach_px
        Amplitude down and to the right [px].
    hz, phase
        Frequency of the swing [1/s] and where in it the thing is at world time zero [periods].
    """

    cover: Spectrum
    light: Spectrum
    shape: tuple[int, int]
    reach_px: tuple[float, float]
    hz: float
    phase: float

    def averaged(self, start_s: float, open_s: float) -> tuple[Field, Field]:
        """Return the mean cover and mean light over an opening (see :meth:`Drifting.averaged`)."""
        swing = self._swing(start_s, open_s)
        fy, fx = frequencies(self.shape)
        down = np.exp(-2j * np.pi * fy * (self.reach_px[0] * swing)[None, :])
        right = np.exp(-2j * np.pi * (self.reach_px[1] * swing)[:, None] * fx)
        mean = np.asarray(down @ right / swing.size, dtype=np.complex64)
        return field_of(self.cover * mean, self.shape), field_of(self.light * mean, self.shape)

    def _swing(self, start_s: float, open_s: float) -> NDArray[np.float64]:
        # Sampling a long opening evenly could beat with the swing.
        lasting_s = open_s if open_s * self.hz < MANY_PERIODS else 1 / self.hz
        moments = start_s + lasting_s * (np.arange(SWAY_SAMPLES) + 0.5) / SWAY_SAMPLES
        return np.asarray(np.sin(2 * math.pi * (self.hz * moments + self.phase)), dtype=np.float64)
