"""The light that is expected by the sun, at a place or for a plan."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from pathlib import Path
from typing import TypeVar

from tzlocal import get_localzone

from tether.checks.host_clocks import WallClock, clock_sentence, clock_trusted
from tether.command.common import out, print_json
from tether.command.places import FORM, read_place
from tether.errors import PlanError
from tether.light.spot import Spot
from tether.light.sun import HORIZON, NAUTICAL, SunDay, altitude, day_at, day_of, passes
from tether.light.twilight import light_stops
from tether.outing.prepare import Prepared, prepare
from tether.plan.cautions import sun_cautions
from tether.plan.leaving import leave_moment
from tether.plan.planner import make_ladder
from tether.plan.takes import opens_at_s
from tether.report.expected_light import Expected, LadderThen, light_json
from tether.wording import utc_text

T = TypeVar("T", bound=date)

_YEARS = (1950, 2100)
_LONGEST = timedelta(hours=24)
#: Before a sunset of another day the table begins so early; a sunrise it outlasts by as much.
_BESIDE = timedelta(hours=1)
#: A table is never shorter.
_SHORTEST = timedelta(minutes=30)


@dataclass(frozen=True, kw_only=True)
class _Where:
    name: str
    spot: Spot
    ready: Prepared | None


def show_light(plan_or_place: Path, date: str | None, from_: str | None, until: str | None, as_json: bool) -> None:
    """Show sun, twilights and light, of a plan or a place."""
    where, clock = _where(plan_or_place), WallClock.now()
    asked = _asked(where, date, from_, until, clock.utc.astimezone(get_localzone()))
    sun = [altitude(asked.spot, asked.start + share * (asked.end - asked.start) / 8) for share in range(9)]
    expected = {
        **light_json(asked),
        "cautions": list(sun_cautions(sun_up=max(sun) > HORIZON, dark=min(sun) < HORIZON)),
        "clock": {
            "utc": utc_text(clock.utc),
            "trusted": clock_trusted(clock),
            "sentence": clock_sentence(clock),
        },
    }
    if as_json:
        print_json(expected)
    else:
        from tether.report.light_view import LightView

        out().print(LightView(expected, get_localzone()))


def _where(plan_or_place: Path) -> _Where:
    place = read_place(str(plan_or_place))
    if place is not None:
        return _Where(name="", spot=place, ready=None)
    path = plan_or_place
    if not path.exists():
        raise PlanError(f"{plan_or_place}: there is no plan of this name, and it is not a place; write {FORM}.")
    ready = prepare(path)
    spot = ready.plan.place.spot
    if spot is None:
        raise PlanError(
            f"{path}: the plan does not say where it is; write latitude and longitude in its [place], or give a place "
            "instead, such as 64.1,-21.9."
        )
    return _Where(name=ready.plan.place.name, spot=spot, ready=ready)


def _asked(where: _Where, day: str | None, from_: str | None, until: str | None, now: datetime) -> Expected:
    zone = now.tzinfo or UTC
    named = None if day is None else _read("--date", day, date.fromisoformat, "a day such as 2026-06-21")
    start = _start_at(where.spot, now) if named is None else _start_of(day_of(where.spot, named))
    if from_ is not None:
        start = _moment("--from", from_, named or now.date(), zone)
    start = start.astimezone(UTC).replace(second=0, microsecond=0)
    of_day = day_at(where.spot, start) if named is None else day_of(where.spot, named)
    leave = None if where.ready is None else leave_moment(where.ready.plan.leave_by, start)
    if leave is not None and leave <= start and start > now:
        leave = None  # it is meant for another time than the one that is looked ahead to
    end = _end(where.spot, start, leave) if until is None else _until(until, start, zone)
    return Expected(
        name=where.name, spot=where.spot, day=of_day, start=start, end=end, then=_then(where.ready, start, leave)
    )


def _moment(option: str, text: str, day: date, zone: tzinfo) -> datetime:
    """Read a time of that day, or a date and time, local unless an offset is written with it."""

    def read(written: str) -> datetime:
        if "-" in written[:8]:
            return datetime.fromisoformat(written)
        return datetime.combine(day, time.fromisoformat(written))

    found = _read(option, text, read, "a time as 21:30, or a date and time as 2026-06-21T21:30")
    return found if found.tzinfo else found.replace(tzinfo=zone)


def _read(option: str, text: str, read: Callable[[str], T], forms: str) -> T:
    try:
        found = read(text.strip())
    except ValueError as error:
        raise PlanError(f"{option} {text}: cannot be read; write {forms}.") from error
    if not _YEARS[0] <= found.year < _YEARS[1]:
        raise PlanError(f"{option} {text}: write a day from {_YEARS[0]} to {_YEARS[1] - 1}.")
    return found


def _until(text: str, start: datetime, zone: tzinfo) -> datetime:
    local = start.astimezone(zone)
    end = _moment("--until", text, local.date(), zone)
    if end <= start and "-" not in text[:8]:
        end = _moment("--until", text, local.date() + timedelta(days=1), zone)
    if not timedelta(0) < end - start <= _LONGEST:
        raise PlanError(f"--until {text}: write a moment after the start, {local:%Y-%m-%d %H:%M}, by 24 hours at most.")
    return end.astimezone(UTC)


def _start_at(spot: Spot, now: datetime) -> datetime:
    """Return where the table of today begins: now, or by night with the nautical dawn that comes."""
    if light_stops(altitude(spot, now)) is not None:
        return now
    return passes(spot, NAUTICAL, now, now + _LONGEST, rising=True) or now


def _start_of(day: SunDay) -> datetime:
    """Return where the table of a day begins that is named: before its sunset, or where there is none, at its noon."""
    sunset = day.moment("sunset")
    return day.noon if sunset is None else sunset - _BESIDE


def _end(spot: Spot, start: datetime, leave: datetime | None) -> datetime:
    """Return where a table ends: when the person leaves; else some time after sunrise, or with nautical twilight."""
    if leave is not None and leave > start:
        return min(leave, start + _LONGEST)
    day = day_at(spot, start)
    sunrise = passes(spot, HORIZON, start, day.noon, rising=True)
    if sunrise is not None:
        end = sunrise + _BESIDE
    else:
        end = passes(spot, NAUTICAL, max(start, day.noon), day.ends, rising=False) or day.ends
    return max(end.replace(second=0, microsecond=0), start + _SHORTEST)


def _then(ready: Prepared | None, start: datetime, leave: datetime | None) -> LadderThen | None:
    if ready is None:
        return None
    ladder = make_ladder(ready.plan, ready.abilities, begins=start)
    opens = opens_at_s(ready.plan, ready.abilities, ladder.rungs, ladder.turns, ladder.base_frames)
    return LadderThen(ladder=ladder, opens_at_s=opens, leave=leave)
