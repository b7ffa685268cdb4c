"""Diffraction and knocks."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from tether.body.simulated.lens import WAVELENGTHS_UM, diffraction_mtf, seen_through
from tether.body.simulated.scene import Picture

PITCH_UM = 4.35
SHAPE = (160, 240)


def grating(period_px: float) -> Picture:
    """Return a grey picture of upright stripes."""
    x = np.arange(SHAPE[1])
    stripes = 1 + 0.5 * np.cos(2 * np.pi * x / period_px)
    return np.broadcast_to(stripes, (3, *SHAPE)).astype(np.float32)


def contrast(channel: NDArray[np.float32]) -> float:
    return float((channel.max() - channel.min()) / (channel.max() + channel.min()))


@pytest.mark.parametrize(("aperture", "cut_off_per_mm"), [(4, 481), (5.6, 343), (8, 240), (11, 175), (16, 120)])
def test_cut_off_is_the_published_one(aperture: float, cut_off_per_mm: float) -> None:
    # Edmund Optics, Imaging Resource Guide 3.1, table 1 (520 nm).
    kept = diffraction_mtf(np.array([0.0, cut_off_per_mm - 1, cut_off_per_mm + 1]) / 1000, aperture, 0.520)
    assert kept[0] == 1
    assert 0 < kept[1] < 2e-3
    assert kept[2] == 0


def test_mtf_at_half_the_cut_off() -> None:
    # (2/π)(π/3 - √3/4) = 0.39100; computed by hand.
    assert diffraction_mtf(np.array([0.125]), 8.0, 0.5)[0] == pytest.approx(0.39100, abs=1e-5)


def test_contrast_falls_from_f8_to_f22_as_diffraction_says() -> None:
    period_px = 4.0
    wide, narrow = (seen_through(grating(period_px), n, PITCH_UM, (0.0, 0.0)) for n in (8.0, 2**4.5))
    frequency = np.array([1 / (period_px * PITCH_UM)])
    for channel, wavelength_um in enumerate(WAVELENGTHS_UM):
        fall = contrast(narrow[channel]) / contrast(wide[channel])
        expected = diffraction_mtf(frequency, 2**4.5, wavelength_um) / diffraction_mtf(frequency, 8.0, wavelength_um)
        assert fall == pytest.approx(float(expected[0]), rel=1e-3)
        assert fall < 0.7


def test_lens_keeps_the_light() -> None:
    picture = np.random.default_rng(1).random((3, *SHAPE), dtype=np.float32)
    seen = seen_through(picture, 16.0, PITCH_UM, (2.5, -1.0))
    assert seen.mean(axis=(1, 2)) == pytest.approx(picture.mean(axis=(1, 2)), rel=1e-4)
