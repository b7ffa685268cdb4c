"""The way over the ladder that touches the tripod least: a shortest path over rungs and filter stacks."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise, permutations
from operator import itemgetter

from tether.exposure.filters import Filter
from tether.plan.learned import Touch

Stack = tuple[Filter, ...]
#: Up to this many groups of filters every order is tried; beyond it they stay as they are.
MOST_GROUPS = 7


def touched(before: Stack, after: Stack) -> tuple[Stack, Stack]:
    """Return the filters that must be taken off and put on to get from one stack to another.

    Stacks are given nearest the lens first. Filters in the slots of a holder are drawn one by one; a screwed one (slot
    0) comes off only after those in front of it, which then go on again.
    """
    off, on = _screwed(tuple(one for one in before if not one.slot), tuple(one for one in after if not one.slot))
    slid_off = tuple(one for one in before if one.slot and one not in after)
    slid_on = tuple(one for one in after if one.slot and one not in before)
    return off + slid_off, on + slid_on


def pieces_touched(before: Stack, after: Stack) -> list[tuple[Filter, Touch]]:
    """Return each filter that is touched to get from one stack to another, and how."""
    off, on = touched(before, after)
    pieces: list[tuple[Filter, Touch]] = [(one, "off") for one in off]
    return pieces + [(one, "held" if one.slot else "screwed") for one in on]


def _screwed(before: Stack, after: Stack) -> tuple[Stack, Stack]:
    same = 0
    while same < min(len(before), len(after)) and before[same] == after[same]:
        same += 1
    return before[same:], after[same:]


def orders(stack: Stack) -> tuple[Stack, ...]:
    """Return the ways to put a stack on the lens: screwed filters in any order, those of a holder by slot in front."""
    slid = tuple(one for one in stack if one.slot)
    return tuple((*screwed, *slid) for screwed in permutations(one for one in stack if not one.slot))


def touches(before: Stack, after: Stack) -> int:
    """Count the filters taken off and put on between two stacks."""
    off, on = touched(before, after)
    return len(off) + len(on)


def cheapest_path(
    prices: Sequence[Sequence[float | None]],
    move: Callable[[int, int | None, int], float],
    leave: Callable[[int], float] = lambda _: 0.0,
) -> tuple[float, tuple[int, ...]]:
    """Choose a state for each step so that prices and moves together cost least.

    Parameters
    ----------
    prices
        For each step the price of each state; None where the state cannot be had. Every step has at least one.
    move
        Cost of coming to state `to` at step `step` from state `come` of the step before: ``move(step, come, to)``;
        `come` is None at the first step.
    leave
        Cost of leaving a state after the last step.

    Returns
    -------
    tuple
        The total, and the index of the state at each step.
    """
    best: dict[int | None, float] = {None: 0.0}
    came: list[dict[int, int | None]] = []
    for step, row in enumerate(prices):
        following: dict[int | None, float] = {}
        came.append({})
        for to, price in enumerate(row):
            if price is None:
                continue
            total, come = min(((known + move(step, one, to), one) for one, known in best.items()), key=itemgetter(0))
            following[to] = total + price
            came[step][to] = come
        best = following
    ends = ((known + (0.0 if one is None else leave(one)), one) for one, known in best.items())
    total, at = min(ends, key=itemgetter(0))
    path: list[int] = []
    for come_from in reversed(came):
        if at is not None:
            path.append(at)
            at = come_from[at]
    return total, tuple(reversed(path))


def grouped(stacks: Sequence[Stack]) -> tuple[int, ...]:
    """Return the order of steps that takes all of one stack together and touches least, beginning without filters."""
    groups: dict[Stack, list[int]] = {}
    for index, stack in enumerate(stacks):
        groups.setdefault(stack, []).append(index)
    keys = list(groups)
    if len(keys) <= MOST_GROUPS:
        keys = list(min(permutations(keys), key=_walk))
    return tuple(index for key in keys for index in groups[key])


def _walk(order: Iterable[Stack]) -> int:
    return sum(touches(before, after) for before, after in pairwise([(), *order]))
