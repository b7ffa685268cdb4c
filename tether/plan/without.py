"""The rest of a ladder planned again without a filter, where that turns out not to be there."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, replace

from tether.exposure.abilities import Abilities
from tether.exposure.labels import with_unit
from tether.plan.base import base_frames
from tether.plan.file import Plan
from tether.plan.ladder import Ladder, Rung, exposures
from tether.plan.planner import darks_of, forecast_of, make_ladder, turns_of
from tether.plan.proof import with_proofs
from tether.plan.words import stack_name
from tether.wording import which_rungs

#: What rung of a plan is meant: the time that is asked for [s], and how far from it in a bracket [stops].
_Wish = tuple[float, float | None]


@dataclass(frozen=True, kw_only=True)
class Without:
    """A ladder planned again without a filter.

    Attributes
    ----------
    plan
        The plan without the filter.
    ladder
        The ladder; rungs keep their numbers, and those that are lost are in it as they were planned.
    lost
        The numbers of those that can't be had.
    said
        What becomes of the rungs that were to be made with it, in words.
    """

    plan: Plan
    ladder: Ladder
    lost: frozenset[int]
    said: str


def without(plan: Plan, abilities: Abilities, ladder: Ladder, name: str, left: Collection[int]) -> Without:
    """Plan the rest of a ladder again without a filter; rungs that don't need it stay as they are.

    Parameters
    ----------
    name
        The filter that is not there.
    left
        The numbers of the rungs that are still to be made.
    """
    less = _less(plan, name)
    again = dict(_wishes(make_ladder(less, abilities).rungs))
    made: dict[int, Rung] = {}
    lost: set[int] = set()
    for wish, rung in _wishes(ladder.rungs):
        if rung.number in left and any(one.name == name for one in rung.fitted):
            if wish in again:
                made[rung.number] = replace(again[wish], number=rung.number)
            else:
                lost.add(rung.number)
    rungs = tuple(made.get(one.number, one) for one in ladder.rungs)
    return Without(
        plan=less,
        ladder=_with_rungs(less, abilities, ladder, rungs, lost),
        lost=frozenset(lost),
        said=_said(list(made.values()), sorted(lost)),
    )


def _less(plan: Plan, name: str) -> Plan:
    """Return a plan that does not have a filter."""

    def others(names: Iterable[str]) -> list[str]:
        return [one for one in names if one != name]

    rung = tuple(one.model_copy(update={"also": others(one.also)}) if one.also else one for one in plan.rung)
    rungs = plan.rungs.model_copy(update={"also": others(plan.rungs.also)})
    return replace(plan, filter=tuple(one for one in plan.filter if one.name != name), rungs=rungs, rung=rung)


def _wishes(rungs: Iterable[Rung]) -> Iterator[tuple[_Wish, Rung]]:
    """Yield rungs with what is asked for by each; those of a bracket follow the one that they are around."""
    asked_s = 0.0
    for rung in rungs:
        if rung.choice.bracket_stops is None:
            asked_s = rung.asked.exact
        yield (asked_s, rung.choice.bracket_stops), rung


def _with_rungs(
    plan: Plan, abilities: Abilities, ladder: Ladder, rungs: tuple[Rung, ...], lost: Collection[int]
) -> Ladder:
    """Return a ladder with other rungs, and what comes of them: tests, tasks, dark frames and the time it takes."""
    kept = {one.number: one for one in with_proofs(plan, abilities, [one for one in rungs if one.number not in lost])}
    made = tuple(kept.values())
    base, darks = base_frames(plan, abilities, made), darks_of(plan, made)
    turns = turns_of(plan, abilities, made, darks)
    return replace(
        ladder,
        rungs=tuple(kept.get(one.number, one) for one in rungs),
        turns=turns,
        darks=darks,
        base_frames=base,
        forecast=forecast_of(plan, abilities, turns, base, exposures(base, made, darks), darks),
    )


def _said(made: list[Rung], lost: list[int]) -> str:
    """Say which rungs are made in another way, by what is on the lens then, and which are lost."""
    groups: dict[str, list[int]] = {}
    for rung in made:
        how = f"with {stack_name(rung.fitted)}"
        if rung.wanted != rung.asked:
            how += f" at {with_unit(rung.wanted.label)}, the nearest possible"
        groups.setdefault(how, []).append(rung.number)
    said = [f"{_named(numbers)} made {how}" for how, numbers in groups.items()]
    said += [f"{_named(lost)} lost: nothing else makes {'it' if len(lost) == 1 else 'them'}"] if lost else []
    return "; ".join(said) or "no rung that is left needs it"


def _named(numbers: list[int]) -> str:
    return f"{which_rungs(numbers)} {'is' if len(numbers) == 1 else 'are'}"
