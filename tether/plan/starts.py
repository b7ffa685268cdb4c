"""When each rung of a ladder is expected to open, counted from the beginning of the ladder."""

from __future__ import annotations

from collections.abc import Sequence

from tether.exposure.abilities import Abilities
from tether.journal.planned import PlannedTurn
from tether.plan.file import Plan
from tether.plan.ladder import BaseFrames, Rung
from tether.plan.takes import frame_takes_s


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
