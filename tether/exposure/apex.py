"""APEX values: exposures as stops, and the light of a scene by the settings that fit it.

Source: Exif 2.2 (CIPA DC-008, JEITA CP-3451) Annex C for Tv, Av and Ev. All arguments are exact values and positive.
"""

from __future__ import annotations

import math


def tv(time_s: float) -> float:
    """Return the time value -log2 t of an exposure time [s]: 1/128 s is 7."""
    return -math.log2(time_s)


def av(aperture: float) -> float:
    """Return the aperture value 2 log2 N of an f-number: f/8 is 6."""
    return 2 * math.log2(aperture)


def ev(time_s: float, aperture: float) -> float:
    """Return the exposure value Av + Tv of settings, whatever the sensitivity: 1/128 s at f/8 is 13."""
    return av(aperture) + tv(time_s)


def ev100(time_s: float, aperture: float, iso: float) -> float:
    """Return the exposure value that the same scene has at ISO 100."""
    return ev(time_s, aperture) - math.log2(iso / 100)
