"""Stops: how much brighter one exposure is than another, and exposures equal in brightness.

Positive stops are always brighter. A frame's brightness, for the same scene, goes as t · S / N², less the filters.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from tether.errors import PlanError

# What an exposure can sensibly be; beyond it the arithmetic has gone astray.
_SENSE = {
    "time_s": (1e-9, 1e9, "a time between a nanosecond and 30 years"),
    "aperture": (0.1, 1e4, "an f-number between 0.1 and 10000"),
    "iso": (1e-2, 1e9, "an ISO between 0.01 and 1000000000"),
    "filter_stops": (0.0, 64.0, "filters between 0 and 64 stops"),
}

# Rounding in the sums below may leave a filter of minus a millionth of a millionth of a stop.
_ROUNDING_STOPS = 1e-9


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
    filter_stops
        What the filters in front of the lens take away [stops], 0 to 64.

    Raises
    ------
    PlanError
        A value is not positive, not finite or beyond all sense.
    """

    time_s: float
    aperture: float
    iso: float
    filter_stops: float = 0.0

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
    """Return the brightness of a frame [stops], counted from 1 s at f/1.0, ISO 100, no filter.

    log2(t · S / (100 · N²)) less the filters; only differences between frames of the same scene mean anything.
    """
    return (
        time_stops(exposure.time_s, 1)
        + aperture_stops(exposure.aperture, 1)
        + iso_stops(exposure.iso, 100)
        - exposure.filter_stops
    )


def brighter_by(exposure: Exposure, other: Exposure) -> float:
    """Return how much brighter [stops] `exposure` is than `other`; negative where it is darker."""
    return brightness_stops(exposure) - brightness_stops(other)


def solve(
    base: Exposure,
    *,
    time_s: float | None = None,
    aperture: float | None = None,
    iso: float | None = None,
    filter_stops: float | None = None,
) -> Exposure:
    """Return the exposure as bright as `base` that has three of the values given and the fourth solved for.

    Parameters
    ----------
    base
        The exposure to equal.
    time_s, aperture, iso, filter_stops
        Exact values: [s], f-number, ISO, [stops]. Exactly one is left out; it is the one solved for.

    Raises
    ------
    PlanError
        None or more than one is left out, a value is beyond sense, or only a filter that brightens would do.

    Examples
    --------
    >>> solve(Exposure(time_s=1 / 128, aperture=8, iso=100), aperture=8, iso=100, filter_stops=10).time_s
    8.0
    """
    given = {"time_s": time_s, "aperture": aperture, "iso": iso, "filter_stops": filter_stops}
    unknown = [name for name, value in given.items() if value is None]
    if len(unknown) != 1:
        raise PlanError(
            "To solve an exposure give three of time_s, aperture, iso and filter_stops and leave out the one to be "
            f"found; left out here: {', '.join(unknown) or 'none'}."
        )
    start = replace(base, **{name: value for name, value in given.items() if value is not None})
    return _brighter(start, unknown[0], -brighter_by(start, base))


def _brighter(exposure: Exposure, by: str, stops: float) -> Exposure:
    """Return the exposure made brighter by `stops` with the one value named `by`."""
    if by == "time_s":
        return replace(exposure, time_s=exposure.time_s * math.exp2(stops))
    if by == "aperture":
        return replace(exposure, aperture=exposure.aperture * math.exp2(-stops / 2))
    if by == "iso":
        return replace(exposure, iso=exposure.iso * math.exp2(stops))
    filter_stops = exposure.filter_stops - stops
    if filter_stops < -_ROUNDING_STOPS:
        raise PlanError(
            f"No filter can do this: these settings are already {-filter_stops:.2f} stops darker than the base."
        )
    return replace(exposure, filter_stops=max(filter_stops, 0.0))
