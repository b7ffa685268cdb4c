"""The way over the ladder that touches the tripod least: a shortest path over rungs and filter stacks."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from itertools import pairwise, permutations

from tether.exposure.filters import Filter

Stack = tuple[Filter, ...]
#: Up to this many groups of filters every order is tried; beyond it they stay as they are.
MOST_GROUPS = 7


@lru_cache(maxsize=4096)
def touched(before: Stack, after: Stack) -> tuple[tuple[Filter, ...], tuple[Filter, ...]]:
    """Return the filters that must be taken off and put on to get from one stack to another.

    Stacks are given nearest the lens first. Where filters have slots, one that sits nearer the lens cannot be reached
    without taking off those in front of it; without slots each can be drawn by itself.
    """
    if any(one.slot for one in (*before, *after)):
        same = 0
        while same < min(len(before), len(after)) and before[same] == after[same]:
            same += 1
        return before[same:], after[same:]
    return tuple(one for one in before if one not in after), tuple(one for one in after if one not in before)


def touches(before: Stack, after: Stack) -> int:
    """Count the filters taken off and put on between two stacks."""
    off, on = touched(before, after)
    return len(off) + len(on)


def cheapest_path(
    prices: Sequence[Sequence[float | None]], move: Callable[[int, int | None, int], float]
) -> tuple[float, tuple[int, ...]]:
    """Choose a state for each step so that prices and moves together cost least.

    Parameters
    ----------
    prices
        For each step the price of each state; None where the state cannot be had. Every step has at least one.
    move
        Cost of coming to state `to` at step `step` from state `come` of the step before: ``move(step, come, to)``;
        `come` is None at the first step.

    Returns
    -------
    tuple
        The total, and the index of the state at each step.
    """
    best: list[tuple[float, tuple[int, ...]] | None] = []
    for step, row in enumerate(prices):
        following: list[tuple[float, tuple[int, ...]] | None] = []
        for state, price in enumerate(row):
            if price is None:
                following.append(None)
            elif step == 0:
                following.append((price + move(0, None, state), (state,)))
            else:
                following.append(
                    min(
                        (total + price + move(step, come, state), (*path, state))
                        for come, known in enumerate(best)
                        if known is not None
                        for total, path in [known]
                    )
                )
        best = following
    return min((one for one in best if one is not None), default=(0.0, ()))


def grouped(stacks: Sequence[Stack], start: Stack = ()) -> tuple[int, ...]:
    """Return the order of steps that takes all of one stack together and touches least, beginning from `start`."""
    groups: dict[Stack, list[int]] = {}
    for index, stack in enumerate(stacks):
        groups.setdefault(stack, []).append(index)
    keys = list(groups)
    if len(keys) <= MOST_GROUPS:
        keys = list(min(permutations(keys), key=lambda order: _walk(order, start)))
    return tuple(index for key in keys for index in groups[key])


def _walk(order: Iterable[Stack], start: Stack) -> int:
    return sum(touches(before, after) for before, after in pairwise([start, *order]))
