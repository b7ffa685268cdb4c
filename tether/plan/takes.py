"""How long frames take, and when rungs open for that: counted alike by planner, run and forecast of the light."""

from __future__ import annotations

from collections.abc import Sequence

from tether.exposure.abilities import Abilities
from tether.journal.planned import PlannedTurn
from tether.plan.file import Plan
from tether.plan.ladder import BaseFrames, Rung

#: From here on a body takes a dark frame of its own, where it takes any (common practice, no source) [s].
BODY_DARK_OVER_S = 1.0


def body_dark_s(plan: Plan, time_s: float) -> float:
    """Return how long the body takes for a dark frame of its own after an exposure [s], as far as the plan tells."""
    return time_s if plan.run.dark_frames == "by the body" and time_s >= BODY_DARK_OVER_S else 0.0


def frame_takes_s(plan: Plan, abilities: Abilities, time_s: float) -> float:
    """Return how long a frame takes in all [s]: the exposure, the body's own dark frame, copying it."""
    return time_s + body_dark_s(plan, time_s) + (abilities.fetch_s or 0.0)


def opens_at_s(
    plan: Plan, abilities: Abilities, rungs: Sequence[Rung], turns: Sequence[PlannedTurn], base: BaseFrames
) -> tuple[float, ...]:
    """Return when the first frame of each rung opens [s], after the tasks and the test exposures before it.

    It counts what `Ladder.forecast` counts; waiting for the person's key is not in it.
    """
    at_s = base.before * frame_takes_s(plan, abilities, base.time_s)
    found = []
    for rung in rungs:
        at_s += sum(turn.takes_s + plan.run.settle_s for turn in turns if turn.before_rung == rung.number)
        at_s += sum(frame_takes_s(plan, abilities, time_s) for time_s in rung.tests_s)
        found.append(at_s)
        at_s += rung.frames * frame_takes_s(plan, abilities, rung.open_s)
    return tuple(found)
