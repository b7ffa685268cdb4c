"""A covering array: rows in which every two values of two factors come together at least once."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence

Row = dict[str, str]
#: Two factors, each with a value.
Pair = tuple[tuple[str, str], tuple[str, str]]


def covering(factors: Mapping[str, Sequence[str]]) -> list[Row]:
    """Return rows that cover every pair of values; always the same for the same factors.

    Greedy: each row begins with a pair that is not covered yet, and takes for every other factor the value that covers
    most of what is left.
    """
    left = dict.fromkeys(all_pairs(factors))
    rows = []
    while left:
        row = dict(next(iter(left)))
        for name in sorted(factors, key=lambda one: -len(factors[one])):
            if name not in row:
                row[name] = max(factors[name], key=lambda value: sum(_pair(row, name, value, o) in left for o in row))
        for pair in pairs_of(row):
            left.pop(pair, None)
        rows.append({name: row[name] for name in factors})
    return rows


def all_pairs(factors: Mapping[str, Sequence[str]]) -> list[Pair]:
    """Return every pair of values of two factors."""
    return [
        _sorted((one, a), (other, b))
        for one, other in itertools.combinations(factors, 2)
        for a, b in itertools.product(factors[one], factors[other])
    ]


def pairs_of(row: Row) -> list[Pair]:
    """Return the pairs that a row covers."""
    return [_sorted(one, other) for one, other in itertools.combinations(row.items(), 2)]


def _pair(row: Row, name: str, value: str, other: str) -> Pair:
    return _sorted((name, value), (other, row[other]))


def _sorted(one: tuple[str, str], other: tuple[str, str]) -> Pair:
    return (one, other) if one <= other else (other, one)
