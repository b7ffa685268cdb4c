"""When a run is to start: what a person writes, such as ``05:40`` or ``sunset-40m``, as a moment."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Final

from tether.errors import PlanError
from tether.light.spot import Spot
from tether.light.sun import MOMENTS, altitude, passes
from tether.wording import altitude as altitude_words
from tether.wording import spot as spot_words

#: A start further ahead than this is taken for a slip of the pen.
FURTHEST = timedelta(days=366)
#: What can be written of a start by the sun.
_SUN_FORMS: Final = (
    "sunset, sunrise, civil dusk or nautical dawn, with +10m or -1h30m behind it where need be, or sun at -6"
)
#: How far ahead it is looked for: from one sunset to the next, which may come later each day.
_AHEAD: Final = timedelta(hours=25)
_LOOKED_AT: Final = timedelta(minutes=10)
_SUN_NAMES = "|".join(MOMENTS)
#: A start that has a word of the sun in it is meant by the sun.
_BY_THE_SUN = re.compile(r"sun|dawn|dusk", re.IGNORECASE)
_SUN_AT = re.compile(
    rf"(?:(?P<name>{_SUN_NAMES})|sun at (?P<altitude>[+-]?\d{{1,2}}(?:\.\d+)?)°?(?P<way> rising| falling)?)"
    r"\s*(?:(?P<sign>[+-])\s*(?:(?P<hours>\d{1,2})h)?(?:(?P<minutes>\d{1,4})m)?)?",
    re.ASCII,
)
_AT = re.compile(r"(?:(\d{4}-\d\d-\d\d)[T ])?(\d\d?)(:\d\d(?::\d\d)?)(Z|[+-]\d\d:\d\d)?", re.ASCII)
_AT_FORMS = (
    "a time as 05:40, or a day and time as 2026-10-04T05:40, each with +02:00 or Z behind it where need be; "
    f"or by the sun: {_SUN_FORMS}"
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
        start = sun_start(at, spot, now) if _BY_THE_SUN.search(at) else _start_at(at, now, zone)
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


def sun_start(text: str, spot: Spot | None, now: datetime) -> datetime:
    """Return the next moment (UTC) that is meant by a start by the sun.

    Parameters
    ----------
    text
        What `--at` was given: one of `MOMENTS`, or the sun's altitude in degrees, which it sinks through unless
        "rising" is written; and hours and minutes before or after that.
    spot
        The place; None: not known.
    now
        The present, aware.

    Raises
    ------
    PlanError
        If it cannot be read, the place is not known, or the sun does not get there within a day.
    """
    match = _SUN_AT.fullmatch(" ".join(text.lower().split()))
    if match is None or (match["sign"] and not (match["hours"] or match["minutes"])):
        raise PlanError(f"--at {text}: cannot be read as a start by the sun; write {_SUN_FORMS}.")
    if spot is None:
        raise PlanError(
            f"--at {text}: the plan does not say where it is; write latitude and longitude in its [place], or give a "
            "time of day."
        )
    wanted, rising = MOMENTS[match["name"]] if match["name"] else (float(match["altitude"]), match["way"] == " rising")
    offset = timedelta(hours=int(match["hours"] or 0), minutes=int(match["minutes"] or 0))
    if match["sign"] == "-":
        offset = -offset
    since = now.astimezone(UTC) - offset
    moment = passes(spot, wanted, since, since + _AHEAD, rising=rising)
    if moment is None:
        raise PlanError(_never(text, match, spot, since))
    return moment + offset


def _never(text: str, match: re.Match[str], spot: Spot, since: datetime) -> str:
    """Say that the sun does not get there, and between what altitudes it goes."""
    found = [altitude(spot, since + at * _LOOKED_AT) for at in range(_AHEAD // _LOOKED_AT)]
    what = f"no {match['name']}" if match["name"] else f"no sun at {match['altitude']}°"
    where, lowest, highest = spot_words(spot.latitude, spot.longitude), min(found), max(found)
    return (
        f"--at {text}: there is {what} within a day at {where}; there the sun goes from {altitude_words(lowest)} to "
        f"{altitude_words(highest)}. Give a time of day, or an altitude in between."
    )
