"""From a plan file to a ladder: the plan, the body file it names, what body and lens can do, filters as measured."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from tether.body.bodyfile import BodyFile, load_body_file
from tether.body.layers import user_folder
from tether.errors import PlanError, TetherError
from tether.exposure.abilities import Abilities
from tether.exposure.filters import Filter
from tether.plan.base import with_own_iso
from tether.plan.file import Plan, read_plan
from tether.plan.ladder import Ladder
from tether.plan.learned import Learned, Touch, learned_of, learned_words
from tether.plan.measured import FILTERS_NAME, MeasuredFilter, filters_of_text, with_measured
from tether.plan.path import pieces_touched
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
    learned: Learned | None = None,
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
    learned
        What earlier outings tell of how long things take; None: as they tell now.

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
    plan, said = with_own_iso(plan, abilities)
    sentences += said
    if learned is None:
        learned, why_not = _learned_by_now(plan, abilities)
        sentences += why_not
    plan = replace(plan, learned=learned)
    if learned.copying_s:
        abilities = replace(abilities, fetch_s=learned.copying_s.value)
    ladder = make_ladder(plan, abilities, others=others, begins=begins or datetime.now(UTC))
    return Prepared(
        plan=plan,
        filters=known,
        body_file=body_file,
        abilities=abilities,
        ladder=replace(
            ladder,
            notes=(*ladder.notes, *sentences),
            learned=learned_words(learned, _touches(plan, ladder), ladder.forecast.total_s),
        ),
    )


def _learned_by_now(plan: Plan, abilities: Abilities) -> tuple[Learned, tuple[str, ...]]:
    """Return what earlier outings tell of a camera, and a sentence where that can't be known; nothing if not wished."""
    if abilities.simulated or not plan.run.learned:
        return Learned(), ()
    from tether.outing.memory import cases  # the database, which a plan for the simulated body does without

    try:
        return learned_of(cases(), abilities.name, cold=plan.place.cold), ()
    except TetherError as error:
        return Learned(), (f"What earlier outings tell is not counted. {error}",)


def _touches(plan: Plan, ladder: Ladder) -> Iterator[Touch]:
    """Give how filters are touched in a ladder, as far as the plan does not say itself how long each takes."""
    timed = {entry.name for entry in plan.filter if entry.swap_s is not None}
    before: tuple[Filter, ...] = ()
    stacks = [ladder.stack(turn.filters) for turn in ladder.turns if turn.kind == "change filters"]
    for after in [*stacks, ()] if ladder.base_frames.take_off_s else stacks:
        yield from (touch for one, touch in pieces_touched(before, after) if one.name not in timed)
        before = after


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
