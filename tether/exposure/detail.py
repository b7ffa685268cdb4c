"""Detail: how much contrast a lens leaves to detail of a frequency, and what that is worth in quanta of light.

Noise-equivalent quanta at a frequency ν are NEQ(ν) = MTF(ν)² · q, q being the quanta caught: the number of quanta that
a perfect camera would need to show the detail as well. A stop of NEQ is worth a stop of light.
Sources: J. C. Dainty and R. Shaw, Image Science, 1974; ICRU report 41, 1986; IEC 62220-1 (titles from memory).
"""

from __future__ import annotations

import math
from functools import lru_cache

from tether.exposure.noise import snr
from tether.exposure.optics import GREEN_UM, diffraction_mtf

#: What contrast counts as from its first zero on: beyond it detail comes out reversed, or not at all.
LEAST_CONTRAST = 0.02
#: Diagonal of 36 × 24 mm [mm], to which the usual detail and blur belong.
FULL_DIAGONAL_MM = math.hypot(36, 24)
#: The detail that matters on 36 × 24 mm [cycles/mm]: 5 cycles/mm in a print 21 cm wide (common practice, no source).
USUAL_DETAIL_PER_MM = 29.0
#: The width of 36 × 24 mm [mm] and what a print is looked at for [cycles/mm].
_FULL_WIDTH_MM, _PRINT_PER_MM = 36.0, 5.0
#: Blur that passes as sharp at the edges of the depth, as a part of the diagonal (common practice, no source).
BLUR_OF_DIAGONAL = 1 / 3600

# Below π the integrand of Hopkins' formula has one sign, so there is no zero; above it they are looked for in steps.
_NO_ZERO_BELOW = math.pi
_ZERO_STEP = 0.4


def detail_per_mm(diagonal_mm: float, print_width_cm: float | None = None) -> float:
    """Return the detail that matters on a sensor [cycles/mm].

    Parameters
    ----------
    diagonal_mm
        Diagonal of the sensor [mm].
    print_width_cm
        Width of the print that is to come of it [cm]; None: the usual 29 cycles/mm on 36 × 24 mm.
    """
    full = USUAL_DETAIL_PER_MM if print_width_cm is None else _PRINT_PER_MM * print_width_cm * 10 / _FULL_WIDTH_MM
    return full * FULL_DIAGONAL_MM / diagonal_mm


def blur_mm(diagonal_mm: float) -> float:
    """Return the diameter of the blur at the edges of a depth that is taken as sharp [mm]: a 3600th of the diagonal."""
    return diagonal_mm * BLUR_OF_DIAGONAL


def defocused_mtf(frequency_per_mm: float, aperture: float, defocus_mm: float) -> float:
    """Return the contrast that a perfect lens out of focus leaves to detail, -1 to 1; negative is reversed.

    (4 / (π a)) ∫ sin(a (cos θ - v)) cos θ dθ, θ from 0 to arccos v: the overlap of the shifted circular pupil in the
    frequency v over the cut-off, with a = π ν b, b = defocus / N being the diameter of the geometrical blur. Source:
    H. H. Hopkins, The frequency response of a defocused optical system, Proc. R. Soc. A 231, 1955 (from memory);
    tests hold it against the Fourier transform of the pupil.

    Parameters
    ----------
    frequency_per_mm
        Frequency on the sensor [cycles/mm].
    aperture
        f-number.
    defocus_mm
        Distance of the sharp image from the sensor [mm].
    """
    part = frequency_per_mm * GREEN_UM * 1e-3 * aperture
    turn = math.pi * frequency_per_mm * abs(defocus_mm) / aperture
    if turn < 1e-6 or part >= 1:
        return diffraction_mtf(frequency_per_mm * 1e-3, aperture)
    top = math.acos(part)
    steps = 2 * math.ceil(12 + 2 * turn)
    width = top / steps
    # Simpson's rule; the first and the last term, of weight 1, come first, and the last is zero.
    total = math.sin(turn * (1 - part))
    for step in range(1, steps):
        cosine = math.cos(step * width)
        total += (4 if step % 2 else 2) * math.sin(turn * (cosine - part)) * cosine
    return 4 / (math.pi * turn) * total * width / 3


@lru_cache(maxsize=4096)
def contrast(frequency_per_mm: float, aperture: float, defocus_mm: float) -> float:
    """Return the contrast that counts, 0.02 to 1: from the first zero on it is 0.02. Arguments as before."""
    turn = math.pi * frequency_per_mm * abs(defocus_mm) / aperture
    at = _NO_ZERO_BELOW
    while at < turn:
        if defocused_mtf(frequency_per_mm * at / turn, aperture, defocus_mm) <= 0:
            return LEAST_CONTRAST
        at += _ZERO_STEP
    return max(defocused_mtf(frequency_per_mm, aperture, defocus_mm), LEAST_CONTRAST)


def lowest_contrast(frequency_per_mm: float, aperture: float, edges_mm: tuple[float, ...]) -> float:
    """Return the lowest contrast of the plane of focus and the edges of the depth [each as its defocus, mm]."""
    return min(contrast(frequency_per_mm, aperture, edge_mm) for edge_mm in {0.0, *map(abs, edges_mm)})


def contrast_stops(of: float, beside: float) -> float:
    """Return how many stops of light a contrast is worth less than another: NEQ goes as its square."""
    return 2 * math.log2(beside / of)


def quanta_stops(fewer_stops: float, signal_e: float | None = None, read_e: float | None = None) -> float:
    """Return how many stops of quanta are lost where so many stops less light are caught; negative: won.

    Parameters
    ----------
    fewer_stops
        How much less light reaches the sensor [stops].
    signal_e, read_e
        Electrons caught in the base, and the read noise [e-]; None: not known, light alone counts. Known, the signal is
        worth S² / (S + R²) quanta (EMVA 1288 4.0).
    """
    if signal_e is None or read_e is None:
        return fewer_stops
    return 2 * math.log2(snr(signal_e, 0, read_e) / snr(signal_e * 2**-fewer_stops, 0, read_e))
