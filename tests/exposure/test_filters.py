from __future__ import annotations

import math
from fractions import Fraction
from itertools import chain

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.data import rows
from tether.errors import PlanError
from tether.exposure.filters import (
    Filter,
    change_s,
    stack_stops,
    stacks,
    stops_of_density,
    stops_of_factor,
)

strengths = st.floats(min_value=0, max_value=20)


def names(found: tuple[tuple[Filter, ...], ...]) -> list[tuple[str, ...]]:
    return [tuple(each.name for each in stack) for stack in found]


@pytest.mark.parametrize("row", rows("nd_density"))
def test_strengths_of_the_table(row: dict[str, str]) -> None:
    stops, density = float(row["stops_name"]), float(row["density_name"])
    assert stops_of_density(float(row["density_exact_for_stops"])) == pytest.approx(stops, abs=1e-6)
    assert stops_of_factor(100 / float(row["transmittance_percent"])) == pytest.approx(stops, abs=1e-6)
    assert stops_of_factor(float(row["multiplier_from_density_name"])) == pytest.approx(stops_of_density(density))
    assert stops_of_density(density) == pytest.approx(float(row["stops_from_density_name"]), rel=1e-7)
    assert stops_of_factor(float(row["multiplier_from_factor"])) == stops


@pytest.mark.parametrize("row", rows("nd_density"))
def test_an_unmeasured_filter_may_be_a_tenth_of_its_density_off(row: dict[str, str]) -> None:
    """ANSI PH2.19-1976: ±10 % of the nominal density."""
    filter_ = Filter.of("unmeasured", density=float(row["density_name"]))
    assert filter_.spread_stops == pytest.approx(float(row["tol_10pct_stops"]), rel=1e-3)
    assert not filter_.measured


@pytest.mark.parametrize("row", rows("nd_handbook_table"))
def test_handbook_values(row: dict[str, str]) -> None:
    stops = stops_of_density(float(row["density"]))
    printed_stops = float(sum(map(Fraction, row["printed_stops"].split())))
    assert stops == pytest.approx(float(row["computed_stops"]), rel=1e-5)
    assert stops == pytest.approx(printed_stops, abs=0.05), "as printed, rounded to thirds"
    assert 100 / 2**stops == pytest.approx(float(row["printed_transmission_percent"]), rel=0.04)
    assert stops_of_factor(float(row["printed_factor"])) == pytest.approx(stops, abs=0.09)


def test_six_and_ten_stops_make_a_factor_of_65536() -> None:
    """Densities add (ISO 5)."""
    stack = (Filter.of("river six", stops=6), Filter.of("river ten", factor=1024))
    assert 2 ** stack_stops(stack) == 65_536
    assert stack_stops(stack) == pytest.approx(stops_of_density(4.81648), abs=1e-4)


def test_a_measured_strength_counts_before_the_label() -> None:
    filter_ = Filter.of("ten", density=3.0, measured_stops=10.31, uncertainty_stops=0.05)
    assert filter_.measured
    assert (filter_.stops, filter_.spread_stops) == (10.31, 0.05)
    assert filter_.nominal_stops == pytest.approx(9.9658, abs=1e-4)
    assert Filter.of("ten", stops=10, measured_stops=10.31).spread_stops == 0


@pytest.mark.parametrize(
    ("given_strengths", "said"),
    [({}, "given: none"), ({"density": 3.0, "factor": 1000}, "given: density 3, factor 1000")],
)
def test_strength_is_given_in_exactly_one_way(given_strengths: dict[str, float], said: str) -> None:
    with pytest.raises(PlanError, match=f"“ten” needs its strength as exactly one of .*{said}"):
        Filter.of("ten", **given_strengths)


def test_a_factor_below_one_is_refused() -> None:
    with pytest.raises(PlanError, match=r"a factor is at least 1 \(clear glass\), not 0"):
        Filter.of("odd", factor=0)


def test_all_problems_of_a_filter_are_said_at_once() -> None:
    with pytest.raises(PlanError) as refusal:
        Filter(name="odd", nominal_stops=math.nan, uncertainty_stops=-1, slot=-1, min_focal_mm=0, swap_s=-1)
    assert len(refusal.value.sentences) == 6
    assert all("“odd”" in sentence for sentence in refusal.value.sentences)
    with pytest.raises(PlanError, match="its measured strength is between 0 and 40 stops"):
        Filter(name="odd", nominal_stops=3, measured_stops=-0.1)


@given(st.lists(strengths, max_size=4), st.lists(strengths, max_size=4))
def test_stacks_add(lower: list[float], upper: list[float]) -> None:
    below, above = ([Filter(name="any", nominal_stops=stops) for stops in part] for part in (lower, upper))
    both = list(chain(below, above))
    assert stack_stops(both) == pytest.approx(stack_stops(below) + stack_stops(above))


def test_a_graduated_filter_takes_nothing_from_the_whole_frame() -> None:
    stack = (Filter.of("six", stops=6), Filter.of("sky", stops=3, kind="graduated"))
    assert stack_stops(stack) == 6


def test_all_stacks_fewest_filters_first_and_none_before() -> None:
    three = [Filter.of(name, stops=stops) for name, stops in (("three", 3), ("six", 6), ("ten", 10))]
    assert names(stacks(three)) == [
        (),
        ("three",),
        ("six",),
        ("ten",),
        ("three", "six"),
        ("three", "ten"),
        ("six", "ten"),
        ("three", "six", "ten"),
    ]
    assert names(stacks([])) == [()]


def test_stacks_are_listed_from_the_lens_outwards_and_a_slot_holds_one() -> None:
    outer = Filter.of("outer", stops=3, slot=2)
    inner = Filter.of("inner", stops=6, slot=1)
    rival = Filter.of("rival", stops=10, slot=1)
    screwed = Filter.of("screwed", stops=2)
    found = names(stacks([outer, inner, rival, screwed]))
    assert ("screwed", "inner", "outer") in found
    assert ("inner", "outer") in found
    assert not any({"inner", "rival"} <= set(stack) for stack in found)


@pytest.mark.parametrize("swapped", [False, True])
def test_either_filter_may_forbid_a_stack(swapped: bool) -> None:
    picky = Filter.of("picky", stops=6, stacks_with=("friend",))
    friend = Filter.of("friend", stops=3)
    other = Filter.of("other", stops=10)
    on_hand = [friend, other, picky] if swapped else [picky, other, friend]
    found = {frozenset(stack) for stack in names(stacks(on_hand))}
    assert {"picky", "friend"} in found
    assert {"other", "friend"} in found
    assert not any({"picky", "other"} <= stack for stack in found)


def test_an_always_on_filter_is_in_no_stack_but_shuts_out_what_it_forbids() -> None:
    polariser = Filter.of("polariser", stops=1.5, kind="always on", slot=1)
    same_slot = Filter.of("same slot", stops=6, slot=1)
    loner = Filter.of("loner", stops=6, stacks_with=())
    welcome = Filter.of("welcome", stops=10, slot=2)
    assert names(stacks([polariser, same_slot, loner, welcome])) == [(), ("welcome",)]


def test_filters_with_dark_corners_are_left_out() -> None:
    narrow = Filter.of("narrow", stops=6, min_focal_mm=20)
    unknown = Filter.of("unknown", stops=10)
    assert names(stacks([narrow, unknown], focal_mm=16)) == [(), ("unknown",)]
    assert len(stacks([narrow, unknown], focal_mm=20)) == len(stacks([narrow, unknown])) == 4


def test_two_filters_of_one_name_are_refused() -> None:
    with pytest.raises(PlanError, match="More than one filter is called “six”"):
        stacks([Filter.of("six", stops=6), Filter.of("six", stops=6.2)])


def test_a_change_takes_as_long_as_all_that_come_off_and_go_on() -> None:
    """Coming off may be told apart; else it takes as long as going on: 20 + 60, and 25 + 60."""
    one, other = Filter(name="A", nominal_stops=3, off_s=20.0), Filter(name="B", nominal_stops=3, swap_s=25.0)
    assert change_s([one, other], []) == 45.0
    assert change_s([other], [one]) == 85.0
    assert change_s([], []) == 0.0
    with pytest.raises(PlanError, match="the time to take it off is 0 s or more"):
        Filter(name="A", nominal_stops=3, off_s=-1.0)
