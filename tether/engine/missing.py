"""A filter that is not in the bag: the rest of the ladder without it is proposed, and made so once that is agreed."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from tether.engine.run_state import Run
from tether.engine.tasks import your_turn
from tether.journal.records import Turn
from tether.plan.file import Plan
from tether.plan.ladder import Ladder
from tether.plan.without import without


@dataclass(frozen=True, kw_only=True)
class Course:
    """What the rest of a ladder is worked by: a plan, the ladder that it makes, and why rungs of it are lost.

    `task` is what the person agreed to, and `before` what it was worked by until then: None where it is as planned.
    """

    plan: Plan
    ladder: Ladder
    lost: dict[int, str]
    task: Turn | None = None
    before: Course | None = None


def proposed(
    run: Run, course: Course, names: Sequence[str], asked: str, *, rung: int, left: Collection[int]
) -> Course | None:
    """Propose to go on without one filter of several that were asked for; return what is agreed to, None: nothing is.

    Parameters
    ----------
    names
        The filters of which one is not there; each is proposed until the person says yes.
    asked
        The task that is asked again otherwise.
    left
        The numbers of the rungs that are still to be made.

    Raises
    ------
    Stopped
        If the person stops the run instead.
    """
    for name, following in zip(names, (*names[1:], None), strict=True):
        found = without(course.plan, run.abilities, course.ladder, name, left)
        what = f"{name} is not in the bag: plan again without it?"
        otherwise = f"“{asked}” is asked again" if following is None else f"{following} is spoken of next"
        if your_turn(run, what, found.said, rung=rung, otherwise=otherwise):
            lost = course.lost | dict.fromkeys(found.lost, f"{name} is not in the bag")
            task = Turn(ladder=run.ladder_number, rung=rung, what=what, reason=found.said, state="answered")
            return Course(plan=found.plan, ladder=found.ladder, lost=lost, task=task, before=course)
        run.steering.skipped()
    return None
