"""The light that is expected by the sun, as data: what `tether light --json` gives (`schemas/light.schema.json`).

Light is in stops against the light at `from_utc`: negative is darker; a change per minute is negative where it falls.
What is not known is null: so is the light of a sun that is lower than the table goes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

from tether.light.course import Course
from tether.light.spot import Spot
from tether.light.sun import MOMENTS, SunDay, altitude
from tether.light.twilight import expected_course, falls_stops_per_minute
from tether.plan.ladder import Ladder, Rung
from tether.wording import utc_text

SCHEMA: Final = "tether-light/1"
#: From here on a rung is told of: the light moves while it is open [s].
LONG_S: Final = 30.0
NOT_IN_IT: Final = (
    "This is the sun under a clear sky, by a published table. Cloud, terrain, trees, moon and lamps are not in it: "
    "trust the pace, not the level. Measured evenings were up to 1.2 stops darker and fell at the same pace."
)
#: How far the table of the light may be stepped, and how many lines it has at most.
_STEPS_MIN: Final = (5, 10, 15, 20, 30, 60, 120)
_LINES: Final = 14
#: So long after the ladder the light is looked up for rungs that must stay open longer.
_BEYOND: Final = timedelta(hours=6)


@dataclass(frozen=True, kw_only=True)
class LadderThen:
    """A ladder that would begin with the table: when each rung opens [s after], and when the person wants to leave."""

    ladder: Ladder
    opens_at_s: Sequence[float]
    leave: datetime | None


@dataclass(frozen=True, kw_only=True)
class Expected:
    """What is asked: a place, a day of it, from when until when, and the ladder that would begin then, if any."""

    name: str
    spot: Spot
    day: SunDay
    start: datetime
    end: datetime
    then: LadderThen | None = None


def light_json(asked: Expected) -> dict[str, Any]:
    """Return the expected light as plain data, ready for JSON."""
    spot, day = asked.spot, asked.day
    until = asked.end
    if asked.then:
        until = max(until, asked.start + timedelta(seconds=asked.then.ladder.forecast.total_s)) + _BEYOND
    course = expected_course(spot, asked.start, until)
    return {
        "schema": SCHEMA,
        "place": {"name": asked.name, "latitude": spot.latitude, "longitude": spot.longitude},
        "day": {
            "date": day.date.isoformat(),
            "highest_utc": utc_text(day.noon),
            "highest_deg": day.highest,
            "lowest_utc": utc_text(day.ends),
            "lowest_deg": day.lowest,
            "moments": {name: utc_text(day.moment(name)) for name in MOMENTS},
        },
        "from_utc": utc_text(asked.start),
        "until_utc": utc_text(asked.end),
        "course": [_line(asked, course, at) for at in moments(asked.start, asked.end)],
        "plan": None if asked.then is None else _plan(asked, asked.then, course),
        "not_in_it": NOT_IN_IT,
    }


def moments(start: datetime, end: datetime) -> list[datetime]:
    """Return the moments of a table: start, end, and between them round ones of the clock, no more than fit."""
    span = end - start
    step = next((one for one in _STEPS_MIN if span <= one * _LINES * timedelta(minutes=1)), _STEPS_MIN[-1])
    return [start, *_round(start, end, timedelta(minutes=step)), end]


def _round(start: datetime, end: datetime, step: timedelta) -> Iterator[datetime]:
    midnight = start.replace(hour=0, minute=0, second=0, microsecond=0)
    at = midnight + ((start - midnight) // step + 1) * step
    while at < end:
        if min(at - start, end - at) >= step / 3:
            yield at
        at += step


def _line(asked: Expected, course: Course | None, at: datetime) -> dict[str, Any]:
    falls = falls_stops_per_minute(asked.spot, at)
    return {
        "utc": utc_text(at),
        "sun_deg": altitude(asked.spot, at),
        "light_stops": course.stops_at((at - asked.start).total_seconds()) if course else None,
        "change_stops_per_min": None if falls is None else -falls,
    }


def _plan(asked: Expected, then: LadderThen, course: Course | None) -> dict[str, Any]:
    rungs = zip(then.ladder.rungs, then.opens_at_s, strict=True)
    return {
        "title": then.ladder.title,
        "forecast_s": then.ladder.forecast.total_s,
        "leave_by_utc": utc_text(then.leave),
        "long_rungs": [
            _rung(asked, then, course, rung, at_s) for rung, at_s in rungs if rung.choice.stands_for_s >= LONG_S
        ],
    }


def _rung(asked: Expected, then: LadderThen, course: Course | None, rung: Rung, at_s: float) -> dict[str, Any]:
    opens = asked.start + timedelta(seconds=at_s)
    planned_s = rung.choice.stands_for_s
    return {
        "rung": rung.number,
        "time_s": planned_s,
        "opens_utc": utc_text(opens),
        "sun_deg": altitude(asked.spot, opens),
        "light_stops": course.stops_at(at_s) if course else None,
        "same_light_s": course.open_for(planned_s, at_s) if course else None,
        "after_leave_by": then.leave is not None and opens + timedelta(seconds=planned_s) > then.leave,
    }
