"""The light of the sun under a clear sky, by its altitude: a published table, and the pace that follows from it.

Illuminance on level ground from the sun alone: log10(lux) = a + b x + c x² + d x³ with x = altitude / 90 degrees.
Source: P. K. Seidelmann (ed.), Explanatory Supplement to the Astronomical Almanac (1992), natural illumination; so too
in D. A. Vallado, Fundamentals of Astrodynamics, table 5-1. Cloud, terrain, trees, the moon and lamps are not in it.
Measured evenings (Spitschan et al. 2016, Scientific Reports 6:26756) lie 0.2 to 1.2 stops below it in the median and
fall at the same pace: it is to be trusted for the pace, not for the level.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import takewhile
from math import log10
from typing import Final

from tether.light.course import Course
from tether.light.spot import Spot
from tether.light.sun import ASTRONOMICAL, altitude

#: From which altitude on [degrees], and a, b, c, d.
_TABLE: Final = (
    (20.0, (3.74, 3.97, -4.07, 1.47)),
    (5.0, (3.05, 13.28, -45.98, 64.33)),
    (-0.8, (2.88, 22.26, -207.64, 1034.30)),
    (-5.0, (2.88, 21.81, -258.11, -858.36)),
    (-12.0, (2.70, 12.17, -431.69, -1899.83)),
    (ASTRONOMICAL, (13.84, 262.72, 1447.42, 2797.93)),
)
_STOPS_PER_DECADE: Final = 1 / log10(2)
_MINUTE: Final = timedelta(minutes=1)


def light_stops(altitude_deg: float) -> float | None:
    """Return how bright the ground is [stops against 1 lux]; None where the sun is lower than the table goes, -18°."""
    x = altitude_deg / 90
    for lowest, (a, b, c, d) in _TABLE:
        if altitude_deg >= lowest:
            return (a + x * (b + x * (c + x * d))) * _STOPS_PER_DECADE
    return None


def falls_stops_per_minute(spot: Spot, utc: datetime) -> float | None:
    """Return the pace at which the light falls, over the minutes beside a moment; negative where it rises; or None."""
    before, after = (light_stops(altitude(spot, utc + side)) for side in (-_MINUTE, _MINUTE))
    return None if before is None or after is None else (before - after) / 2


def expected_course(spot: Spot, start: datetime, end: datetime) -> Course | None:
    """Return the light to be expected, minute by minute, in stops against that of the start.

    It ends early where the sun gets lower than the table goes; None where it is so at the start.
    """
    minutes = range(int((end - start) / _MINUTE) + 2)
    levels = (light_stops(altitude(spot, start + minute * _MINUTE)) for minute in minutes)
    known = [level for level in takewhile(lambda level: level is not None, levels) if level is not None]
    return Course(points=tuple((60.0 * at, level - known[0]) for at, level in enumerate(known))) if known else None
