"""Contrast of detail against the Fourier transform of a pupil, and what it is worth in light."""

from __future__ import annotations

from functools import cache
from math import log2, pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray

from tether.exposure.detail import (
    LEAST_CONTRAST,
    blur_mm,
    contrast,
    contrast_stops,
    defocused_mtf,
    detail_per_mm,
    lowest_contrast,
    quanta_stops,
)
from tether.exposure.optics import diffraction_mtf

WAVELENGTH_MM = 0.55e-3
RADIUS_PX, SIDE_PX = 200, 1024


@cache
def _squared() -> NDArray[np.float64]:
    across = (np.arange(SIDE_PX) - SIDE_PX / 2) / RADIUS_PX
    down = np.arange(-RADIUS_PX, RADIUS_PX + 1) / RADIUS_PX
    return across[None, :] ** 2 + down[:, None] ** 2


@cache
def _transfer(aperture: float, defocus_mm: float) -> NDArray[np.float64]:
    waves = defocus_mm / (8 * aperture**2) / WAVELENGTH_MM
    pupil = np.where(_squared() <= 1, np.exp(2j * pi * waves * _squared()), 0)
    rows = np.abs(np.fft.fft(pupil, axis=1)) ** 2
    found = np.fft.ifft(rows.sum(axis=0)).real
    normal: NDArray[np.float64] = found / found[0]
    return normal


def by_pupil(frequency_per_mm: float, aperture: float, defocus_mm: float) -> float:
    """Return the contrast from the pupil itself: spread across by FFT, its transform normalised to 1 at zero.

    The path error at the rim is defocus / (8 N²); the cut-off 1 / (λ N) lies two radii of the pupil away from zero.
    """
    at = frequency_per_mm * WAVELENGTH_MM * aperture * 2 * RADIUS_PX
    return float(np.interp(at, np.arange(SIDE_PX), _transfer(aperture, defocus_mm)))


@pytest.mark.parametrize("aperture", [2.8, 5.6, sqrt(2) ** 7, 22.0])
@pytest.mark.parametrize("defocus_mm", [0.0, 0.05, 0.14, 0.3])
@pytest.mark.parametrize("frequency_per_mm", [10.0, 29.0, 70.0])
def test_contrast_is_that_of_the_transformed_pupil(aperture: float, defocus_mm: float, frequency_per_mm: float) -> None:
    found = defocused_mtf(frequency_per_mm, aperture, defocus_mm)
    assert found == pytest.approx(by_pupil(frequency_per_mm, aperture, defocus_mm), abs=0.006)


def test_in_focus_it_is_the_closed_form() -> None:
    assert defocused_mtf(29, 11, 0) == diffraction_mtf(0.029, 11)
    assert defocused_mtf(29, 11, 1e-4) == pytest.approx(diffraction_mtf(0.029, 11), abs=1e-5)
    assert defocused_mtf(200, 11, 0.1) == 0, "past the cut-off of 165 cycles/mm"


def test_from_its_first_zero_on_contrast_counts_as_a_fiftieth() -> None:
    """A disc is zero first at π ν b = 3.8317, for a frequency far below the cut-off (Bessel function J1)."""
    aperture, frequency_per_mm = 1.4, 29.0
    zero_mm = 3.8317 / (pi * frequency_per_mm) * aperture
    assert contrast(frequency_per_mm, aperture, 0.95 * zero_mm) > LEAST_CONTRAST
    for past in (1.1, 1.5, 2.0, 2.2, 3.0, 5.0, 20.0):
        assert contrast(frequency_per_mm, aperture, past * zero_mm) == LEAST_CONTRAST
    assert by_pupil(frequency_per_mm, aperture, 2.2 * zero_mm) > 0.03, "it comes back, but no longer counts"


#: Base f/11 on 36 × 24 mm, blur 12 µm at the edges of its depth; what each way costs in stops, written down beforehand.
SIX = [
    ("a stop slower: f/16", 8, 0, 0.20),
    ("two slower: f/22", 9, 0, 0.73),
    ("a stop faster: f/8", 6, 0, 0.14),
    ("a stop faster: ISO 200", 7, 1, 1.00),
    ("two faster: f/5.6", 5, 0, 0.86),
    ("two faster: f/8, ISO 200", 6, 1, 1.14),
    ("three faster: f/5.6, ISO 200", 5, 1, 1.86),
    ("three faster: f/4", 4, 0, 3.03),
]


@pytest.mark.parametrize(("way", "full_stops", "iso_stops", "cost"), SIX, ids=[one[0] for one in SIX])
def test_what_is_lost_at_the_detail_that_matters(way: str, full_stops: int, iso_stops: int, cost: float) -> None:
    edge_mm = 0.012 * sqrt(2) ** 7
    edges = (-edge_mm, edge_mm)
    base, found = (lowest_contrast(29, sqrt(2) ** stops, edges) for stops in (7, full_stops))
    assert contrast_stops(found, base) + quanta_stops(iso_stops) == pytest.approx(cost, abs=0.05), way


def test_the_same_numbers_by_the_transformed_pupil() -> None:
    edge_mm = 0.012 * sqrt(2) ** 7
    lowest = {
        stops: min(by_pupil(29, sqrt(2) ** stops, edge) for edge in (0.0, edge_mm)) for stops in (4, 5, 6, 7, 8, 9)
    }
    found = {stops: 2 * log2(lowest[7] / one) for stops, one in lowest.items()}
    assert found == pytest.approx({4: 3.03, 5: 0.86, 6: 0.14, 7: 0.0, 8: 0.20, 9: 0.73}, abs=0.05)


def test_detail_and_blur_go_with_the_diagonal_and_with_the_print() -> None:
    full, half = 43.27, 28.85  # 36 x 24 mm, and two thirds of it
    assert detail_per_mm(full) == pytest.approx(29.0, abs=0.01)
    assert detail_per_mm(half) == pytest.approx(43.5, abs=0.05)
    assert detail_per_mm(full, print_width_cm=21) == pytest.approx(29.17, abs=0.02)  # 1050 cycles over 36 mm
    assert detail_per_mm(full, print_width_cm=42) == pytest.approx(58.33, abs=0.02)
    assert blur_mm(full) == pytest.approx(0.01202, abs=1e-5)


def test_read_noise_makes_little_light_worth_less() -> None:
    """100 e- with 10 e- of read noise are worth 100²/200 = 50 quanta; a quarter of them 25²/125 = 5: 3.32 stops."""
    assert quanta_stops(2.0) == 2.0
    assert quanta_stops(2.0, signal_e=100, read_e=10) == pytest.approx(log2(10), abs=1e-9)
    assert quanta_stops(2.0, signal_e=100_000, read_e=1) == pytest.approx(2.0, abs=1e-3)
