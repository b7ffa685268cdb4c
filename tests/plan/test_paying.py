"""What ways cost in stops of light, and that no cheaper ladder exists: tried against every way on small kits."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, product
from math import hypot, log2, sqrt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.plan.plans import abilities_of, plan_of
from tether.exposure.abilities import Abilities
from tether.exposure.detail import lowest_contrast
from tether.exposure.filters import Filter, stack_stops
from tether.plan.choices import make_space, ways
from tether.plan.file import Plan
from tether.plan.ladder import Ladder
from tether.plan.path import orders, touches
from tether.plan.planner import make_ladder

BASE = '[base]\ntime = "1/30"\naperture = "f/11"\niso = 100\n'
MEASURED = '[[filter]]\nname = "Calder 6"\nstops = 6\nmeasured_stops = 6.0\ntint_stops = 0\n'


def on_36_by_24(plan: Plan) -> Abilities:
    return replace(abilities_of(plan), sensor_mm=(36.0, 24.0))


def cost(time: str, aperture: str, iso: str, filters: str = "") -> float:
    """Return what a rung costs that may be made in one way only."""
    limits = f'[limits]\naperture = ["{aperture}", "{aperture}"]\niso = ["{iso}", "{iso}"]\n'
    plan = plan_of(f'{BASE}[rungs]\ntimes = ["{time}"]\n{limits}{filters}')
    (rung,) = make_ladder(plan, on_36_by_24(plan)).rungs
    assert rung.asked == rung.wanted
    return rung.choice.price + rung.touches_stops


@pytest.mark.parametrize(
    ("time", "aperture", "iso", "expected"),
    [
        ("1/15", "f/16", "100", 0.20),
        ("1/8", "f/22", "100", 0.73),
        ("1/60", "f/8", "100", 0.14),
        ("1/60", "f/11", "200", 1.00),
        ("1/125", "f/5.6", "100", 0.86),
        ("1/125", "f/8", "200", 1.14),
        ("1/250", "f/5.6", "200", 1.86),
        ("1/250", "f/4", "100", 3.03),
    ],
)
def test_what_a_way_costs_was_written_down_beforehand(time: str, aperture: str, iso: str, expected: float) -> None:
    assert cost(time, aperture, iso) == pytest.approx(expected, abs=0.05)


def test_a_filter_costs_at_least_its_touches() -> None:
    one = MEASURED.replace("6", "1")
    assert cost("1/15", "f/11", "100", one) == pytest.approx(1.2)
    assert cost("1/15", "f/11", "100", one.replace("tint_stops = 0\n", "")) == pytest.approx(1.3)


def test_what_once_was_chosen_costs_twenty_times_as_much() -> None:
    """f/7.1 and ISO 800 through six stops for a rung that f/16 makes alone: about 4.4 against 0.20."""
    assert cost("1/10", "f/7.1", "800", MEASURED) == pytest.approx(4.4, abs=0.15)
    plan = plan_of(f'{BASE}[rungs]\ntimes = ["1/15"]\n{MEASURED}')
    (rung,) = make_ladder(plan, on_36_by_24(plan)).rungs
    assert (rung.choice.aperture.label, rung.choice.iso.label, rung.fitted) == ("f/16", "100", ())


def test_a_larger_print_makes_diffraction_dearer() -> None:
    text = f'{BASE}[rungs]\ntimes = ["1/15"]\n'
    found = []
    for print_cm in ("", "print_width_cm = 42\n"):
        plan = plan_of(text + ("[costs]\n" + print_cm if print_cm else ""))
        (rung,) = make_ladder(plan, on_36_by_24(plan)).rungs
        found.append(rung.choice.price)
    assert found[1] > 2 * found[0]


def test_a_depth_written_down_is_what_counts() -> None:
    """From 1 m to 30 m with 24 mm the edges lie 0.29 mm from the focus, farther off than those of the base's depth."""
    text = BASE.replace("f/11", "f/16") + '[rungs]\ntimes = ["1/125"]\n[limits]\naperture = ["f/10", "f/10"]\n'
    free, bound = plan_of(text), plan_of(text + "depth_m = [1.0, 30.0]\n")
    prices = [make_ladder(plan, on_36_by_24(plan)).rungs[0].choice.paid.sharp_stops for plan in (free, bound)]
    near, focus, far = (24 * s / (s - 24) for s in (1000.0, 2 / (1 / 1000 + 1 / 30000), 30000.0))
    edges = (near - focus, focus - far)
    by_hand = 2 * log2(lowest_contrast(29, 16, edges) / lowest_contrast(29, 2 ** (10 / 3), edges))
    assert prices[1] == pytest.approx(by_hand, abs=0.05)
    assert prices[1] > prices[0] + 0.5


def test_iso_is_not_raised_for_a_slower_rung_while_aperture_or_glass_can() -> None:
    plan = plan_of(
        f'{BASE}[rungs]\nfrom = "1/15"\nto = "8m"\nstep_stops = 1\n' + MEASURED + MEASURED.replace("6", "10")
    )
    for rung in make_ladder(plan, abilities_of(plan)).rungs:
        stops = log2(rung.wanted.exact * 30)
        # From f/5.6 to f/22, with no glass or six, ten or sixteen stops of it; only three slower lies between.
        within = any(-2.2 <= stops - glass <= 2.2 for glass in (0, 6, 10, 16))
        assert (rung.choice.iso.label == "100") == within, rung.wanted.label


def test_past_f16_only_where_no_filter_does() -> None:
    text = f'{BASE}[rungs]\ntimes = ["1/8"]\n'
    (alone,) = make_ladder(plan := plan_of(text), abilities_of(plan)).rungs
    assert alone.choice.aperture.label == "f/22"
    three = MEASURED.replace("6", "3")
    (through,) = make_ladder(plan := plan_of(text + three), abilities_of(plan)).rungs
    assert (through.choice.aperture.label, len(through.fitted)) == ("f/8", 1)


APERTURES = {"f/5.6": 5, "f/8": 6, "f/11": 7, "f/16": 8, "f/22": 9}
ISOS = {"100": 0, "200": 1, "400": 2}
TIMES = {"1/125": -7, "1/60": -6, "1/30": -5, "1/15": -4, "1/8": -3, "1/4": -2, "0.5": -1, "1": 0, "2": 1, "4": 2}

small_kits = st.tuples(
    st.sampled_from(["f/8", "f/11", "f/16"]),
    st.sampled_from(["1/60", "1/15", "1/4"]),
    st.lists(st.sampled_from([1, 2, 3, 6]), max_size=2, unique=True),
    st.lists(st.sampled_from(list(TIMES)), min_size=1, max_size=4, unique=True),
)


@settings(deadline=None, max_examples=60)
@given(small_kits)
def test_no_cheaper_ladder_exists(kit: tuple[str, str, list[int], list[str]]) -> None:
    """Full stops only, so that a way fits exactly or not at all; habits are applied otherwise than in the planner."""
    aperture, time, filters, wanted = kit
    text = f'[base]\ntime = "{time}"\naperture = "{aperture}"\niso = 100\n'
    text += f'[rungs]\ntimes = {wanted}\norder = "short first"\n[limits]\niso = [100, 400]\n'
    for stops in filters:
        text += f'[[filter]]\nname = "{stops}"\nstops = {stops}\nmeasured_stops = {stops}.0\ntint_stops = 0.1\n'
    plan = plan_of(text)
    abilities = on_36_by_24(plan)
    full = [mark for mark in abilities.apertures if mark.label in APERTURES]
    abilities = replace(abilities, apertures=tuple(full), isos=tuple(m for m in abilities.isos if m.label in ISOS))
    ladder = make_ladder(plan, abilities)
    found = sum(rung.choice.price + rung.touches_stops for rung in ladder.rungs)
    if not ladder.unreached:
        assert found == pytest.approx(cheapest_by_trying(plan, wanted, APERTURES[aperture], TIMES[time]), abs=1e-6)


def cheapest_by_trying(plan: Plan, wanted: list[str], base_aperture: int, base_time: int) -> float:
    """Return what the cheapest ladder costs, by trying every stack, order, aperture and ISO for every rung."""
    filters = plan.filters
    stacks = [(), *((one,) for one in filters), *([filters] if len(filters) == 2 else [])]
    times = sorted(TIMES[time] for time in wanted)
    per_rung = [prices_by_trying(stacks, time - base_time, base_aperture) for time in times]
    best = float("inf")
    for path in product(*per_rung):
        for put_on in product(*(orders(stacks[at]) for at in path)):
            touched = sum(touches(before, after) for before, after in pairwise([(), *put_on, ()]))
            best = min(best, 0.6 * touched + sum(prices[at] for prices, at in zip(per_rung, path, strict=True)))
    return best


def prices_by_trying(stacks: list[tuple[Filter, ...]], slower: int, base: int) -> dict[int, float]:
    """Return the price of the best way through each stack, of those that habit leaves."""
    edge_mm = hypot(36, 24) / 3600 * sqrt(2) ** base
    tried = [
        (at, full, more, 2 * log2(contrast_at(base, edge_mm) / contrast_at(full, edge_mm)) + more)
        for at, stack in enumerate(stacks)
        for full in APERTURES.values()
        for more in ISOS.values()
        if round(stack_stops(stack)) + (full - base) - more == slower
    ]
    if slower > 0:
        at_base = [one for one in tried if one[2] == 0 and one[1] >= base - 2]
        tried = [one for one in at_base if one[1] <= max(8, base)] or at_base or tried
    tried = [one for one in tried if abs(one[1] - base) <= 1] or tried
    prices: dict[int, float] = {}
    for at, _, _, light in tried:
        price = max(light, 0) + 0.1 * len(stacks[at])
        prices[at] = min(price, prices.get(at, float("inf")))
    return prices


def contrast_at(full_stops: int, edge_mm: float) -> float:
    return lowest_contrast(29.0, sqrt(2) ** full_stops, (edge_mm,))


@settings(deadline=None, max_examples=30)
@given(small_kits)
def test_every_way_that_is_found_is_as_bright_as_the_base(kit: tuple[str, str, list[int], list[str]]) -> None:
    aperture, time, _, wanted = kit
    plan = plan_of(f'[base]\ntime = "{time}"\naperture = "{aperture}"\niso = 100\n[rungs]\ntimes = {wanted}\n')
    space = make_space(plan, abilities_of(plan), ((),))
    for one in make_ladder(plan, abilities_of(plan)).rungs:
        for found in ways(space, one.wanted, 0):
            pair = space.pairs[found.at]
            stops = log2(plan.base.time.exact) + pair.stops + found.error_stops
            made = log2(one.wanted.exact) + found.time_off_stops
            assert made == pytest.approx(stops, abs=1e-9)


def total(ladder: Ladder) -> float:
    return sum(rung.choice.price + rung.touches_stops for rung in ladder.rungs)


def test_touches_add_up_to_those_of_the_whole_ladder() -> None:
    plan = plan_of(f'{BASE}[rungs]\nfrom = "1/60"\nto = "4m"\n' + MEASURED + MEASURED.replace("6", "10"))
    ladder = make_ladder(plan, abilities_of(plan))
    stacks = [(), *(rung.fitted for rung in ladder.rungs), ()]
    touched = sum(touches(before, after) for before, after in pairwise(stacks))
    assert sum(rung.touches_stops for rung in ladder.rungs) == pytest.approx(0.6 * touched)


def test_read_noise_counts_where_the_sensors_is_known() -> None:
    """100 e- with 10 e- of read noise at ISO 100 are worth 50 quanta, and at ISO 400 25 e- are worth 5: 3.32 stops."""
    plan = plan_of(f'{BASE}[rungs]\ntimes = ["1/125"]\n[limits]\naperture = ["f/11", "f/11"]\n')
    known = replace(on_36_by_24(plan), grey_e=100.0, read_noise_e=10.0)
    assert make_ladder(plan, on_36_by_24(plan)).rungs[0].choice.paid.noise_stops == pytest.approx(2.0)
    assert make_ladder(plan, known).rungs[0].choice.paid.noise_stops == pytest.approx(log2(10))
