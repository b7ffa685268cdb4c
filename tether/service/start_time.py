"""When a run is to start: what a person writes, as a moment."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from tether.errors import PlanError
from tether.light.spot import Spot
from tether.service.sun_start import FORMS, names_the_sun, sun_start

#: A start further ahead than this is taken for a slip of the pen.
FURTHEST = timedelta(days=366)
_AT = re.compile(r"(?:(\d{4}-\d\d-\d\d)[T ])?(\d\d?)(:\d\d(?::\d\d)?)(Z|[+-]\d\d:\d\d)?", re.ASCII)
_AT_FORMS = (
    "a time as 05:40, or a day and time as 2026-10-04T05:40, each with +02:00 or Z behind it where need be; "
    f"or by the sun: {FORMS}"
)
_IN = re.compile(r"(?:(\d{1,4})h)?(?:(\d{1,6})m)?(?:(\d{1,8})s)?", re.ASCII)
_IN_FORMS = "hours, minutes and seconds as 2h30m, 45m or 90s"


def parse_start(at: str | None, in_: str | None, now: datetime, zone: tzinfo, spot: Spot | None = None) -> datetime:
    """Return the moment (UTC) of a start that a person has given by exactly one of `--at` and `--in`.

    Parameters
    ----------
    at
        A time of day, meaning the next such; or a day and time. Local in `zone`, unless an offset is written with it.
        Or a moment of the sun, meaning the next such, as :func:`sun_start` has it.
    in_
        How long from now.
    now
        The present, aware.
    zone
        The person's time zone.
    spot
        Where it is on the earth; None: not known.

    Raises
    ------
    PlanError
        If it cannot be read, is past or more than `FURTHEST` ahead, does not exist in the zone, or comes twice.
    """
    if at is not None and in_ is None:
        asked = f"--at {at}"
        start = sun_start(at, spot, now) if names_the_sun(at) else _start_at(at, now, zone)
    elif in_ is not None and at is None:
        asked, start = f"--in {in_}", now.astimezone(UTC) + parse_length("--in", in_)
    else:
        raise PlanError("When the run starts is said by --at or by --in, and by one of them only.")
    if start <= now:
        raise PlanError(f"{asked}: that is not ahead ({in_utc(start)}); name a moment that is still to come.")
    if start - now > FURTHEST:
        raise PlanError(f"{asked}: that is {in_utc(start)}; a start may be up to {FURTHEST.days} days ahead.")
    return start


def in_utc(moment: datetime) -> str:
    """Write a moment in UTC, to the minute."""
    return f"{moment:%Y-%m-%d %H:%M} UTC"


def parse_length(option: str, text: str) -> timedelta:
    """Return a length of time that a person has given by an option. Raises PlanError where it can't be read."""
    match = _IN.fullmatch(text.strip())
    if match is None or not any(match.groups()):
        raise PlanError(f"{option} {text}: cannot be read as a length of time; write {_IN_FORMS}.")
    hours, minutes, seconds = (int(group or 0) for group in match.groups())
    return timedelta(hours=hours, minutes=minutes, seconds=seconds)


def _start_at(text: str, now: datetime, zone: tzinfo) -> datetime:
    day, clock, zone = _parts(text, zone)
    local = datetime.combine(day or now.astimezone(zone).date(), clock)
    if day is None and max(_readings(local, zone)) <= now:
        local += timedelta(days=1)
    return _the_reading(text, local, zone, now)


def _parts(text: str, zone: tzinfo) -> tuple[date | None, time, tzinfo]:
    """Read a day (None: not said), a time of day, and the zone that they are in."""
    match = _AT.fullmatch(text.strip())
    try:
        if match is None:
            raise ValueError(text)
        day, hour, rest, offset = match.groups()
        clock = time.fromisoformat(f"{hour:0>2}{rest}{offset or ''}")
        return date.fromisoformat(day) if day else None, clock.replace(tzinfo=None), clock.tzinfo or zone
    except ValueError as error:
        raise PlanError(f"--at {text}: cannot be read as a moment; write {_AT_FORMS}.") from error


def _readings(local: datetime, zone: tzinfo) -> list[datetime]:
    """Return what a local time may mean in UTC: one moment, or two about a change of the clocks (PEP 495)."""
    return sorted({local.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)})


def _the_reading(text: str, local: datetime, zone: tzinfo, now: datetime) -> datetime:
    """Return the one moment that a local time means, or refuse it with both readings."""
    readings = _readings(local, zone)
    real = [one for one in readings if one.astimezone(zone).replace(tzinfo=None) == local]
    ahead = [one for one in real if one > now]
    if real and len(ahead) < 2:
        return (ahead or real)[-1]
    wrong = "comes twice" if real else "does not exist"
    meant = " or ".join(f"{in_utc(one)} (--at {one.astimezone(zone).isoformat()})" for one in readings)
    raise PlanError(
        f"--at {text}: {local:%Y-%m-%d %H:%M} {wrong} in {zone}, where the clocks are changed then. "
        f"It may mean {meant}; write the one you mean."
    )
