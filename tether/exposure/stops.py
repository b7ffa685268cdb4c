"""Stops: how much brighter one exposure is than another, and the light of a scene by the settings that fit it.

Positive stops are always brighter. A frame's brightness, for the same scene, goes as t · S / N².
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from tether.errors import PlanError

# What an exposure can sensibly be; beyond it the arithmetic has gone astray.
_SENSE = {
    "time_s": (1e-9, 1e9, "a time between a nanosecond and 30 years"),
    "aperture": (0.1, 1e4, "an f-number between 0.1 and 10000"),
    "iso": (1e-2, 1e9, "an ISO between 0.01 and 1000000000"),
}


@dataclass(frozen=True, kw_only=True)
class Exposure:
    """What a frame is taken with, as exact values.

    Attributes
    ----------
    time_s
        Exposure time [s].
    aperture
        f-number.
    iso
        Sensitivity, ISO arithmetic.

    Raises
    ------
    PlanError
        A value is not positive, not finite or beyond all sense.
    """

    time_s: float
    aperture: float
    iso: float

    def __post_init__(self) -> None:
        wrong = [
            f"An exposure needs {sense}, not {getattr(self, name):g}."
            for name, (least, most, sense) in _SENSE.items()
            if not least <= getattr(self, name) <= most
        ]
        if wrong:
            raise PlanError(*wrong)


def time_stops(to_s: float, from_s: float) -> float:
    """Return how much brighter [stops] it gets when the time goes from `from_s` to `to_s` [s]."""
    return math.log2(to_s / from_s)


def aperture_stops(to: float, from_: float) -> float:
    """Return how much brighter [stops] it gets when the f-number goes from `from_` to `to`; opening up is positive."""
    return 2 * math.log2(from_ / to)


def iso_stops(to: float, from_: float) -> float:
    """Return how much brighter [stops] it gets when the ISO goes from `from_` to `to`."""
    return math.log2(to / from_)


def brightness_stops(exposure: Exposure) -> float:
    """Return the brightness of a frame [stops], counted from 1 s at f/1.0, ISO 100; see :func:`ev100`.

    log2(t · S / (100 · N²)); only differences between frames of the same scene mean anything.
    """
    return -ev100(exposure.time_s, exposure.aperture, exposure.iso)


def ev100(time_s: float, aperture: float, iso: float) -> float:
    """Return the exposure value Av + Tv - Sv that the scene of these settings has at ISO 100: 1/128 s at f/8 is 13.

    Source: Exif 2.2 (CIPA DC-008, JEITA CP-3451) Annex C. All arguments are exact values and positive.
    """
    return -(time_stops(time_s, 1) + aperture_stops(aperture, 1) + iso_stops(iso, 100))
