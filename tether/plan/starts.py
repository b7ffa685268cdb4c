"""When each rung of a ladder is expected to open, counted from the beginning of the ladder."""

from __future__ import annotations

from tether.exposure.abilities import Abilities
from tether.plan.file import Plan
from tether.plan.ladder import Ladder
from tether.plan.takes import frame_takes_s


def opens_at_s(plan: Plan, abilities: Abilities, ladder: Ladder) -> tuple[float, ...]:
    """Return when the first frame of each rung opens [s], after the tasks and the test exposures before it.

    It counts what `Ladder.forecast` counts; waiting for the person's key is not in it.
    """
    at_s = ladder.base_frames.before * frame_takes_s(plan, abilities, ladder.base_frames.time_s)
    found = []
    for rung in ladder.rungs:
        at_s += sum(turn.takes_s + plan.run.settle_s for turn in ladder.turns_before(rung.number))
        at_s += sum(frame_takes_s(plan, abilities, one.time_s) for one in rung.tests)
        found.append(at_s)
        at_s += rung.frames * frame_takes_s(plan, abilities, rung.choice.time_s)
    return tuple(found)
