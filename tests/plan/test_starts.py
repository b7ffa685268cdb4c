"""When rungs open: what the forecast counts, rung by rung."""

from __future__ import annotations

import pytest

from tests.plan.plans import BASE, HEAD, SIX, TEN, abilities_of, plan_of
from tether.plan.planner import make_ladder
from tether.plan.takes import opens_at_s


def test_rungs_open_after_base_frames_tasks_and_the_test_exposure() -> None:
    """Base frames of 1/125 s, two; no time to copy is known of the simulated body beyond `fetch_s`."""
    plan = plan_of(BASE + '[rungs]\ntimes = ["1/125", "2m"]\n' + SIX + TEN, HEAD)
    abilities = abilities_of(plan)
    ladder = make_ladder(plan, abilities)
    first, second = opens_at_s(plan, abilities, ladder.rungs, ladder.turns, ladder.base_frames)
    fetch_s = abilities.fetch_s or 0.0
    assert first == pytest.approx(2 * (2**-7 + fetch_s))
    (short, long) = ladder.rungs
    turns = ladder.turns_before(2)
    assert turns
    assert long.proof is not None
    tests_s = sum(one.time_s + fetch_s for one in long.tests)
    changes_s = sum(turn.takes_s + 5 for turn in turns)
    wanted_s = first + short.frames * (short.choice.time_s + fetch_s) + changes_s + tests_s
    assert second == pytest.approx(wanted_s)


def test_the_last_rung_ends_with_the_forecast_where_nothing_comes_after_it() -> None:
    text = (
        BASE.replace("iso = 100", "iso = 100\nagain = false")
        + '[run]\ndark_frames = "none"\n[rungs]\nfrom = "1/500"\nto = "4m"\n'
        + SIX
        + TEN
    )
    plan = plan_of(text, HEAD)
    abilities = abilities_of(plan)
    ladder = make_ladder(plan, abilities)
    last = ladder.rungs[-1]
    took_s = last.frames * (last.choice.time_s + (abilities.fetch_s or 0.0))
    after_s = sum(turn.takes_s + plan.run.settle_s for turn in ladder.turns_before(None))
    total_s = opens_at_s(plan, abilities, ladder.rungs, ladder.turns, ladder.base_frames)[-1] + took_s + after_s
    assert total_s == pytest.approx(ladder.forecast.total_s)
