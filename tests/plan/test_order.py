"""The order of rungs in light that changes: what is lost to it, and what must be had first."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.plan.plans import (
    BASE,
    SIX,
    TEN,
    a_choice,
    abilities_of,
    ladder_of,
    plan_of,
)
from tether.exposure.filters import Filter
from tether.exposure.labels import parse_time
from tether.plan.choices import make_space
from tether.plan.order import InLight, RungOrder, in_light


def test_falling_light_takes_frozen_rungs_first_and_rising_light_long_ones() -> None:
    """1/500 s at dusk needs all the light there is; four minutes are as easily had later, with less glass or wider."""
    text = '[base]\ntime = "1/60"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["1/500", "1/250", "2", "1m", "4m"]\n'
    first = {}
    for trend in ("falling", "rising"):
        ladder = ladder_of(text + f'frames = 1\n[light]\ntrend = "{trend}"\n' + SIX + TEN)
        first[trend] = ladder.rungs[0].wanted.label
        kind = "frozen" if trend == "falling" else "long"
        assert any(f"The light is {trend}" in one and f"{kind} rungs come first" in one for one in ladder.notes)
    assert first == {"falling": "1/500", "rising": "4:00"}


@pytest.mark.parametrize("must", ["0.5", "8"])
def test_in_light_that_goes_what_must_be_had_comes_before_what_is_lost(must: str) -> None:
    """Half a stop a minute, and ISO 200 gives back one: what comes after 65 s has its light, after three minutes none.

    4:16 needs ISO 200 in the light of the base already.
    """
    limits = '[limits]\naperture = ["f/8", "f/8"]\niso = [100, 200]\n'
    falling = '[light]\ntrend = "falling"\nstops_per_min = 0.5\n'
    base = '[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\n'
    rungs = '[rungs]\ntimes = ["0.5", "8", "4:16"]\nframes = 1\n'
    ladder = ladder_of(base + limits + rungs + falling + SIX + TEN + f'[[rung]]\ntime = "{must}"\nmust = true\n')
    first = ladder.rungs[0]
    assert (first.asked.label, first.must) == (must, True)
    assert any("By the forecast there is too little light left for rungs 2 and 3" in one for one in ladder.notes)
    led_by = "rungs that must be had come first" if must == "8" else "frozen rungs come first"
    assert any(led_by in one for one in ladder.notes)


def test_light_that_stays_is_lost_for_no_rung() -> None:
    ladder = ladder_of(BASE + '[rungs]\ntimes = ["0.5", "8", "4:16"]\n' + SIX + TEN)
    assert not any("too little light left" in one for one in ladder.notes)


ONE_WAY = '[limits]\naperture = ["f/8", "f/8"]\niso = [100, 100]\n'


def in_light_of(trend: str, *steps: RungOrder) -> InLight:
    plan = plan_of(f'{BASE}[rungs]\ntimes = ["1/125"]\n[light]\ntrend = "{trend}"\nstops_per_min = 0.5\n{ONE_WAY}')
    six = Filter.of("six", stops=6)
    return in_light(make_space(plan, replace(abilities_of(plan), fetch_s=1.0), ((), (six,))), steps)


def step(time_s: float = 2**-7, fitted: tuple[Filter, ...] = ()) -> RungOrder:
    return RungOrder(wanted=parse_time("1/125"), frames=1, choice=a_choice(time_s=time_s), fitted=fitted)


@pytest.mark.parametrize("trend", ["falling", "rising"])
def test_what_comes_when_the_light_has_gone_costs_all_that_lacks(trend: str) -> None:
    """After 119 s and one to copy it the light is a stop off, and f/8 with ISO 100 is all there is: it costs 1 + 1."""
    found = in_light_of(trend, step(119.0), step())
    assert found.lost == (1,)
    assert found.cost_stops == pytest.approx(2.0)


def test_in_light_that_stays_nothing_is_lost_however_long_it_takes() -> None:
    assert in_light_of("steady", step(3600.0), step()) == InLight(cost_stops=0.0, lost=())


def test_fitting_a_filter_takes_light_too() -> None:
    """A minute and five seconds to settle: 0.54 stop, more than the sixth that a rung may be off."""
    six = Filter.of("six", stops=6)
    assert in_light_of("falling", step(fitted=(six,))).lost == (0,)
    assert in_light_of("falling", step()).lost == ()
