"""When the person must be gone: their own time to leave, and the last safe exit that they read in a tide table.

No tide is computed: the times are what was typed. The way off can close before high water, so that high water is no
time to leave by.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

#: A time of day, or a day with it.
Moment = time | datetime

_ANY_DAY = date(2000, 1, 2)
_DEFERS = "Your table, the sea before you and the coastguard count for more than this."


def leave_moment(leave_by: Moment | None, now: datetime) -> datetime | None:
    """Return the moment the person wants to leave; a time of day is the local one nearest to now within half a day.

    A moment that is past stays past, so that a run which has overstayed starts nothing more.
    """
    if leave_by is None:
        return None
    if isinstance(leave_by, datetime):
        return leave_by.astimezone(UTC)
    local = now.astimezone()
    moment = local.replace(hour=leave_by.hour, minute=leave_by.minute, second=leave_by.second, microsecond=0)
    if moment - local > timedelta(hours=12):
        moment -= timedelta(days=1)
    elif local - moment > timedelta(hours=12):
        moment += timedelta(days=1)
    return moment.astimezone(UTC)


def earlier(one: Moment | None, other: Moment | None) -> Moment | None:
    """Return the earlier of two moments, or the one there is; a time of day is the one nearest to the other."""
    if one is None or other is None:
        return other if one is None else one
    if isinstance(other, datetime) and not isinstance(one, datetime):
        one, other = other, one
    at = one if isinstance(one, datetime) else datetime.combine(_ANY_DAY, one)
    beside = leave_moment(other, at)
    return one if beside is None or at.astimezone(UTC) <= beside else other


def tide_told(low: Moment | None, high: Moment | None, last_safe_exit: Moment | None) -> str:
    """Say the tide as it was typed, and what comes of it; empty where nothing was."""
    named = (("low", low), ("high", high), ("last safe exit", last_safe_exit))
    typed = [f"{name} {_written(at)}" for name, at in named if at is not None]
    if not typed:
        return ""
    comes = (
        "No last safe exit is given, so nothing holds the ladder back: write it under [tide] as last_safe_exit."
        if last_safe_exit is None
        else "Nothing is begun that would end after that."
    )
    return f"Tide, as you typed it: {', '.join(typed)}. {comes} {_DEFERS}"


def _written(at: Moment) -> str:
    return f"{at:%H:%M on %Y-%m-%d}" if isinstance(at, datetime) else f"{at:%H:%M}"
