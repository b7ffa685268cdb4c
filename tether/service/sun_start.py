"""A start by the sun: what a person writes, such as ``sunset-40m``, as a moment."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import Final

from tether.errors import PlanError
from tether.light.spot import Spot
from tether.light.sun import MOMENTS, altitude, passes
from tether.wording import altitude as altitude_words
from tether.wording import spot as spot_words

#: What can be written.
FORMS: Final = "sunset, sunrise, civil dusk or nautical dawn, with +10m or -1h30m behind it where need be, or sun at -6"
#: How far ahead it is looked for: from one sunset to the next, which may come later each day.
_AHEAD: Final = timedelta(hours=25)
_LOOKED_AT: Final = timedelta(minutes=10)
_NAMES = "|".join(MOMENTS)
_WRITTEN = re.compile(
    rf"(?:(?P<name>{_NAMES})|sun at (?P<altitude>[+-]?\d{{1,2}}(?:\.\d+)?)°?(?P<way> rising| falling)?)"
    r"\s*(?:(?P<sign>[+-])\s*(?:(?P<hours>\d{1,2})h)?(?:(?P<minutes>\d{1,4})m)?)?",
    re.ASCII,
)


def names_the_sun(text: str) -> bool:
    """Tell whether a start is meant by the sun: it has a word of the sun in it."""
    return re.search(r"sun|dawn|dusk", text, re.IGNORECASE) is not None


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
    match = _WRITTEN.fullmatch(" ".join(text.lower().split()))
    if match is None or (match["sign"] and not (match["hours"] or match["minutes"])):
        raise PlanError(f"--at {text}: cannot be read as a start by the sun; write {FORMS}.")
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
