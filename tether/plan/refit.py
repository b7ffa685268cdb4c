"""Make a rung through other filters than planned: the light has moved so far that the planned ones leave it no way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from tether.exposure.abilities import Abilities
from tether.exposure.filters import Filter, may_stack, stacks
from tether.plan.choices import best, choice_of, make_space, ways
from tether.plan.file import Plan
from tether.plan.ladder import Rung
from tether.plan.path import Stack, orders, touches

#: How much darker than its filters and the base say a rung comes out through a stack [stops].
Dimmer = Callable[[Stack], float]


def refitted(
    plan: Plan,
    abilities: Abilities,
    rung: Rung,
    on_lens: Stack,
    dimmer_stops: Dimmer,
    *,
    only_on_lens: bool = False,
) -> list[Rung]:
    """Return a rung as it can be made through other filters on hand than planned, the best first.

    Parameters
    ----------
    rung
        As planned. What it has on beside the filters that pay for its time stays on; several frames that stand for one
        are left as they are.
    on_lens
        What is on the lens now: what is put on or taken off costs as in the planner.
    dimmer_stops
        How much darker than its filters and the base say it would come out through each stack; it is made so much
        brighter than the base asks.
    only_on_lens
        Only through what is on the lens.
    """
    if rung.choice.way == "many":
        return []
    top = plan.top.model_copy(update={"darker_by": rung.choice.darker_by_stops})
    also = tuple(one for one in rung.fitted if one not in rung.choice.stack)
    space = make_space(replace(plan, top=top), abilities, _stacks(plan, rung, also))
    found = []
    for at, stack in enumerate(space.stacks):
        order, fitted = _ordered(stack, also, on_lens)
        way = best(ways(space, rung.wanted, at, dimmer_stops(fitted)))
        if way is None or (only_on_lens and fitted != on_lens):
            continue
        choice = replace(choice_of(space, rung.wanted, at, way), stack=order, bracket_stops=rung.choice.bracket_stops)
        price = way.price + plan.costs.touch_stops * touches(on_lens, fitted)
        proof = rung.proof if fitted else None
        found.append(((way.rank, price), replace(rung, choice=choice, fitted=fitted, proof=proof)))
    return [one for _, one in sorted(found, key=lambda each: each[0])]


def _stacks(plan: Plan, rung: Rung, also: Stack) -> tuple[Stack, ...]:
    """Return the stacks that may be put on beside what stays on, but the one that is planned."""
    payers = tuple(one for one in plan.filters if one.kind != "graduated")
    planned = {one.name for one in rung.choice.stack}
    return tuple(
        stack
        for stack in stacks(payers, focal_mm=plan.lens.focal_mm)
        if {one.name for one in stack} != planned and all(may_stack(one, other) for one in also for other in stack)
    )


def _ordered(stack: Stack, also: Stack, on_lens: Stack) -> tuple[Stack, Stack]:
    """Return a stack in the order that touches the lens least, alone and with what else is on."""

    def with_also(order: Stack) -> tuple[Filter, ...]:
        return tuple(sorted((*order, *also), key=lambda one: one.slot))

    order = min(orders(stack), key=lambda each: touches(on_lens, with_also(each)))
    return order, with_also(order)
