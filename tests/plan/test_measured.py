"""Filters as measured, laid into a plan: whose word counts, and for which body."""

from __future__ import annotations

from datetime import date

import pytest

from tests.plan.plans import plan_of
from tether.errors import PlanError
from tether.plan.measured import MeasuredFilter, filters_of_text, with_measured

TEN = MeasuredFilter(
    name="Calder 10", stops=10.37, uncertainty_stops=0.02, measured_on=date(2026, 11, 25), with_body="A body"
)
PLAN = plan_of(
    '[base]\ntime = "1/60"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["1"]\n'
    '[[filter]]\nname = "Calder 10"\nstops = 10\n[[filter]]\nname = "Calder 6"\nstops = 6\nmeasured_stops = 6.1\n'
)
TEXT = """
[[filter]]
name = "Calder 10"
stops = 10.37
uncertainty_stops = 0.02
measured_on = 2026-11-25
with_body = "A body"
"""


def test_a_measured_filter_is_reckoned_with_as_measured_and_said_so() -> None:
    plan, sentences = with_measured(PLAN, [TEN], simulated=False)
    ten, six = plan.filters
    assert (ten.stops, ten.spread_stops, ten.nominal_stops) == (10.37, 0.02, 10.0)
    assert six.stops == 6.1
    assert sentences == ("Calder 10: measured 10.37 ± 0.02 stop on 2026-11-25.",)


def test_the_plans_own_measurement_comes_first() -> None:
    six = TEN.model_copy(update={"name": "Calder 6", "stops": 6.3})
    plan, sentences = with_measured(PLAN, [six], simulated=False)
    assert plan == PLAN
    assert sentences == ()


def test_what_the_simulated_body_measured_is_for_that_body_only_and_the_other_way_round() -> None:
    simulated = TEN.model_copy(update={"stops": 9.5, "simulated": True})
    for known in ([TEN, simulated], [simulated, TEN]):
        assert with_measured(PLAN, known, simulated=False)[0].filters[0].stops == 10.37
        plan, (sentence,) = with_measured(PLAN, known, simulated=True)
        assert plan.filters[0].stops == 9.5
        assert "on the simulated body" in sentence
    assert with_measured(PLAN, [TEN], simulated=True) == (PLAN, ())


def test_a_filter_that_is_another_one_by_its_label_is_told_and_not_used() -> None:
    plan, (sentence,) = with_measured(PLAN, [TEN.model_copy(update={"stops": 6.2})], simulated=False)
    assert plan.filters[0].measured_stops is None
    assert "not used" in sentence


def test_the_file_is_read_with_its_mistakes_told() -> None:
    assert filters_of_text(TEXT) == (TEN,)
    assert filters_of_text("") == ()
    with pytest.raises(PlanError, match=r"filters\.toml.*stops"):
        filters_of_text(TEXT.replace("10.37", "-3"))
    with pytest.raises(PlanError, match=r"filters\.toml"):
        filters_of_text("x = [")
