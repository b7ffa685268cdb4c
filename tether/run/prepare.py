"""From a plan file to a ladder: the plan, the body file it names, and what body and lens can do together."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from tether.body.bodyfile import BodyFile, load_body_file
from tether.exposure.abilities import Abilities
from tether.plan.file import Plan, read_plan
from tether.plan.ladder import Ladder
from tether.plan.planner import make_ladder


@dataclass(frozen=True, kw_only=True)
class Prepared:
    """A plan with all that follows from it before a camera is touched."""

    plan: Plan
    body_file: BodyFile
    abilities: Abilities
    ladder: Ladder


def prepare(plan: Plan | Path, others: int = 0) -> Prepared:
    """Read a plan (where it is given as a path) and make its ladder.

    Parameters
    ----------
    plan
        The plan, or the path of its file.
    others
        How many alternatives to give for each rung.

    Raises
    ------
    PlanError
        With a sentence for every mistake in the plan or the body file.
    """
    if isinstance(plan, Path):
        plan = read_plan(plan)
    body_file = load_body_file(plan.body.file)
    abilities = body_file.abilities(plan.lens.widest.exact, plan.lens.narrowest.exact)
    return Prepared(
        plan=plan, body_file=body_file, abilities=abilities, ladder=make_ladder(plan, abilities, others=others)
    )
