"""How long frames take: counted alike by planner, run and forecast of the light."""

from __future__ import annotations

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
