"""The order of rungs in light that changes: what is lost to it, and what must be had first."""

from __future__ import annotations

import pytest

from tests.plan.plans import (
    BASE,
    SIX,
    TEN,
    ladder_of,
)


def test_falling_light_takes_frozen_rungs_first_and_rising_light_long_ones() -> None:
    """1/500 s at dusk needs all the light there is; four minutes are as easily had later, with less glass or wider."""
    text = '[base]\ntime = "1/60"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["1/500", "1/250", "2", "1m", "4m"]\n'
    first = {}
    for trend in ("falling", "rising"):
        ladder = ladder_of(text + f'frames = 1\n[light]\ntrend = "{trend}"\n' + SIX + TEN)
        first[trend] = ladder.rungs[0].wanted.label
        kind = "frozen" if trend == "falling" else "long"
        assert any(f"The light is {trend}" in one and f"{kind} rungs come first" in one for one in ladder.cautions)
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
    assert any("By the forecast there is too little light left for rungs 2 and 3" in one for one in ladder.cautions)
    led_by = "rungs that must be had come first" if must == "8" else "frozen rungs come first"
    assert any(led_by in one for one in ladder.cautions)


def test_light_that_stays_is_lost_for_no_rung() -> None:
    ladder = ladder_of(BASE + '[rungs]\ntimes = ["0.5", "8", "4:16"]\n' + SIX + TEN)
    assert not any("too little light left" in one for one in ladder.cautions)
