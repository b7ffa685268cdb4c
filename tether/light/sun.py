"""Where the sun is, and when it passes an altitude.

Altitudes are geometric: of the middle of the disc, in degrees above a level horizon, without refraction, as the
twilights are defined and as the table of :mod:`tether.light.twilight` is made. Positions come from the library `ephem`,
which needs nothing but itself; here it lies within 0.0002 degree of a published worked example and of an almanac.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from math import degrees, radians
from typing import Final

import ephem

from tether.light.spot import Spot

#: The middle of the disc when its upper edge is seen on the horizon: 34' of refraction and 16' of radius [degrees].
#: This and the twilights: US Naval Observatory, Rise, Set and Twilight Definitions.
HORIZON: Final = -50 / 60
CIVIL, NAUTICAL, ASTRONOMICAL = -6.0, -12.0, -18.0
#: What the moments of a day are called: the altitude, and whether the sun rises through it.
MOMENTS: Final = {
    "astronomical dawn": (ASTRONOMICAL, True),
    "nautical dawn": (NAUTICAL, True),
    "civil dawn": (CIVIL, True),
    "sunrise": (HORIZON, True),
    "sunset": (HORIZON, False),
    "civil dusk": (CIVIL, False),
    "nautical dusk": (NAUTICAL, False),
    "astronomical dusk": (ASTRONOMICAL, False),
}
#: A sun that is beyond an altitude for less than this is not seen to pass it.
_STEP = timedelta(minutes=2)
_EXACT = timedelta(milliseconds=100)


@dataclass(frozen=True, kw_only=True)
class SunDay:
    """A day of a place, from one lowest sun to the next, whatever the clocks there say: three moments in UTC."""

    spot: Spot
    begins: datetime
    noon: datetime
    ends: datetime

    @property
    def date(self) -> date:
        """The date of its noon, by the sun."""
        return (self.noon + _ahead(self.spot)).date()

    @property
    def highest(self) -> float:
        """The sun's altitude at noon [degrees]."""
        return altitude(self.spot, self.noon)

    @property
    def lowest(self) -> float:
        """The sun's altitude at the end of the evening [degrees]."""
        return altitude(self.spot, self.ends)

    def moment(self, name: str) -> datetime | None:
        """Return one of `MOMENTS`: a dawn before noon, a dusk after it; None where the sun does not get there."""
        wanted, rising = MOMENTS[name]
        start, end = (self.begins, self.noon) if rising else (self.noon, self.ends)
        return passes(self.spot, wanted, start, end, rising=rising)


def altitude(spot: Spot, utc: datetime) -> float:
    """Return the sun's geometric altitude at an aware moment [degrees]."""
    sun = ephem.Sun()
    sun.compute(_observer(spot, utc))
    return degrees(float(sun.alt))


def passes(spot: Spot, wanted: float, start: datetime, end: datetime, *, rising: bool) -> datetime | None:
    """Return when the sun first passes an altitude, to a tenth of a second.

    Parameters
    ----------
    spot
        The place.
    wanted
        The altitude [degrees].
    start, end
        Between which moments.
    rising
        Whether it rises through it; else it sinks through it.

    Returns
    -------
    datetime or None
        None where it does not get there in that time, or is beyond it for less than two minutes.
    """

    def there(utc: datetime) -> bool:
        found = altitude(spot, utc)
        return found >= wanted if rising else found <= wanted

    before = start
    while before < end:
        after = min(before + _STEP, end)
        if there(after) and not there(before):
            return _between(before, after, there)
        before = after
    return None


def day_at(spot: Spot, utc: datetime) -> SunDay:
    """Return the day of a place that a moment lies in."""
    ends = _utc(_observer(spot, utc).next_antitransit(ephem.Sun()))
    noon = _utc(_observer(spot, ends).previous_transit(ephem.Sun()))
    return SunDay(spot=spot, begins=_utc(_observer(spot, noon).previous_antitransit(ephem.Sun())), noon=noon, ends=ends)


def day_of(spot: Spot, day: date) -> SunDay:
    """Return the day of a place whose noon has this date by the sun."""
    return day_at(spot, datetime.combine(day, time(12), UTC) - _ahead(spot))


def _between(before: datetime, after: datetime, there: Callable[[datetime], bool]) -> datetime:
    while after - before > _EXACT:
        middle = before + (after - before) / 2
        before, after = (before, middle) if there(middle) else (middle, after)
    return after


def _observer(spot: Spot, utc: datetime) -> ephem.Observer:
    observer = ephem.Observer()
    observer.lat, observer.lon = radians(spot.latitude), radians(spot.longitude)
    observer.pressure = 0  # no air, no refraction
    observer.date = ephem.Date(utc.astimezone(UTC).replace(tzinfo=None))
    return observer


def _utc(moment: ephem.Date) -> datetime:
    found: datetime = moment.datetime()
    return found.replace(tzinfo=UTC)


def _ahead(spot: Spot) -> timedelta:
    """Return by how much the sun's own time is ahead of UTC, in the mean of the year."""
    return timedelta(hours=spot.longitude / 15)
