"""How long frames take, and when the person wants to leave: counted alike by planner, run and forecast of the light."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta

from tether.exposure.abilities import Abilities
from tether.plan.file import Plan

#: From here on a body takes a dark frame of its own, where it takes any (common practice, no source) [s].
BODY_DARK_OVER_S = 1.0


def body_dark_s(plan: Plan, time_s: float) -> float:
    """Return how long the body takes for a dark frame of its own after an exposure [s], as far as the plan tells."""
    return time_s if plan.run.dark_frames == "by the body" and time_s >= BODY_DARK_OVER_S else 0.0


def frame_takes_s(plan: Plan, abilities: Abilities, time_s: float) -> float:
    """Return how long a frame takes in all [s]: the exposure, the body's own dark frame, copying it."""
    return time_s + body_dark_s(plan, time_s) + (abilities.fetch_s or 0.0)


def leave_moment(leave_by: time | datetime | None, now: datetime) -> datetime | None:
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
