"""The way over the ladder: checked against trying every way."""

from __future__ import annotations

from itertools import permutations, product

from hypothesis import given
from hypothesis import strategies as st

from tether.exposure.filters import Filter
from tether.plan.path import cheapest_path, grouped, orders, pieces_touched, touched, touches

A, B, C = (Filter.of(name, stops=stops) for name, stops in (("A", 3), ("B", 6), ("C", 10)))
STACKS = ((), (A,), (B,), (A, B), (C,))
rows = st.lists(
    st.lists(st.none() | st.integers(0, 9).map(float), min_size=5, max_size=5).filter(
        lambda row: any(x is not None for x in row)
    ),
    min_size=1,
    max_size=4,
)


@given(rows)
def test_no_way_is_cheaper(prices: list[list[float | None]]) -> None:
    def move(_step: int, come: int | None, to: int) -> float:
        return 1.5 * touches(STACKS[come or 0], STACKS[to])

    def total(path: tuple[int, ...]) -> float | None:
        cost, come = 0.0, None
        for step, to in enumerate(path):
            price = prices[step][to]
            if price is None:
                return None
            cost += price + move(step, come, to)
            come = to
        return cost

    best = min(cost for path in product(range(5), repeat=len(prices)) if (cost := total(path)) is not None)
    found, path = cheapest_path(prices, move)
    assert found == best
    assert total(path) == best


def test_screwed_filters_go_on_in_front_and_come_off_in_order() -> None:
    assert touched((A,), (A, B)) == ((), (B,))
    assert touched((B,), (A, B)) == ((B,), (A, B))
    assert touched((A, B), (A,)) == ((B,), ())
    assert orders((A, B)) == ((A, B), (B, A))
    assert touched((A, B), (B,)) == ((A, B), (B,))
    assert touches((A,), (B,)) == 2
    assert touches((), ()) == 0


def test_filters_in_the_slots_of_a_holder_are_drawn_one_by_one() -> None:
    near, far = Filter.of("near", stops=3, slot=1), Filter.of("far", stops=6, slot=2)
    assert touched((near, far), (far,)) == ((near,), ())
    assert touched((near, far), (near,)) == ((far,), ())
    assert touches((near, A), (far, A)) == 2


@given(st.lists(st.sampled_from(STACKS), min_size=1, max_size=8))
def test_grouping_keeps_every_rung_and_touches_least(stacks: list[tuple[Filter, ...]]) -> None:
    order = grouped(stacks)
    assert sorted(order) == list(range(len(stacks)))

    def walk(path: list[tuple[Filter, ...]]) -> int:
        return sum(touches(before, after) for before, after in zip([(), *path], path, strict=False))

    groups = list(dict.fromkeys(stacks))
    best = min(walk(list(one)) for one in permutations(groups))
    assert walk([stacks[index] for index in order]) == best


def test_each_piece_is_touched_in_its_own_way() -> None:
    screwed, other = Filter(name="A", nominal_stops=3), Filter(name="B", nominal_stops=3)
    slid = Filter(name="H", nominal_stops=3, slot=1)
    assert pieces_touched((screwed,), (other, slid)) == [(screwed, "off"), (other, "screwed"), (slid, "held")]
    assert pieces_touched((screwed, slid), (screwed,)) == [(slid, "off")]
