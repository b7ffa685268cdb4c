"""From a plan file to a ladder: the plan, the body file it names, what body and lens can do, filters as measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from tether.body.bodyfile import BodyFile, load_body_file
from tether.body.layers import user_folder
from tether.errors import PlanError
from tether.exposure.abilities import Abilities
from tether.plan.file import Plan, read_plan
from tether.plan.ladder import Ladder
from tether.plan.measured import FILTERS_NAME, MeasuredFilter, filters_of_text, with_measured
from tether.plan.planner import make_ladder


@dataclass(frozen=True, kw_only=True)
class Prepared:
    """A plan with all that follows from it before a camera is touched; `filters` are those that were measured."""

    plan: Plan
    filters: tuple[MeasuredFilter, ...]
    body_file: BodyFile
    abilities: Abilities
    ladder: Ladder


def prepare(
    plan: Plan | Path,
    others: int = 0,
    filters: Sequence[MeasuredFilter] | None = None,
    begins: datetime | None = None,
) -> Prepared:
    """Read a plan (where it is given as a path) and make its ladder.

    Parameters
    ----------
    plan
        The plan, or the path of its file.
    others
        How many alternatives to give for each rung.
    filters
        Filters as they were measured; None: as the user's own file has them.
    begins
        When the ladder is to begin, for the light to be expected; None: now.

    Raises
    ------
    PlanError
        With a sentence for every mistake in the plan, the body file, or the file of measured filters.
    """
    if isinstance(plan, Path):
        plan = read_plan(plan)
    known = measured_filters() if filters is None else tuple(filters)
    body_file = load_body_file(plan.body.file)
    abilities = body_file.abilities(plan.lens.widest.exact, plan.lens.narrowest.exact)
    plan, sentences = with_measured(plan, known, simulated=abilities.simulated)
    ladder = make_ladder(plan, abilities, others=others, begins=begins or datetime.now(UTC))
    return Prepared(
        plan=plan,
        filters=known,
        body_file=body_file,
        abilities=abilities,
        ladder=replace(ladder, cautions=(*ladder.cautions, *sentences)),
    )


def filters_path() -> Path:
    """Return where the user's measured filters are kept; the file need not be there."""
    return user_folder(FILTERS_NAME)


def measured_filters() -> tuple[MeasuredFilter, ...]:
    """Return the user's measured filters. Raises PlanError where their file can't be read."""
    path = filters_path()
    try:
        return filters_of_text(path.read_text(encoding="utf-8-sig")) if path.exists() else ()
    except (OSError, UnicodeDecodeError) as error:
        raise PlanError(f"{path} can't be read; it must be a text file in TOML.") from error
