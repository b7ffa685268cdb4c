"""How long bulb exposures are expected to be open in the light ahead: by hand, by quadrature, and as it is said.

Base 1/60 s (exactly 1/64), f/8, ISO 100. In even mean over what glass may take, times are longer or shorter as well
without any light that changes; so the tests ask for filters that were measured, and for what the mean over the glass
leaves: within a fifth.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from math import exp2, log2

import pytest

from tests.plan.plans import HEAD, abilities_of, plan_of
from tether.light.spot import Spot
from tether.light.sun import altitude, passes
from tether.light.twilight import light_stops
from tether.plan.file import Plan
from tether.plan.ladder import Ladder
from tether.plan.light_ahead import by_the_sun, light_ahead, mean_stops, rises_beside_stops_per_minute
from tether.plan.planner import make_ladder

BASE = '[base]\ntime = "1/60"\naperture = "f/8"\niso = 100\n'
RUNGS = '[rungs]\ntimes = ["1/60", "2m", "4m"]\nframes = 1\norder = "short first"\n'
FILTERS = "".join(f'[[filter]]\nname = "Calder {n}"\nstops = {n}\nmeasured_stops = {n}.0\n' for n in (6, 10))
LIMITS = '[limits]\naperture = ["f/4", "f/22"]\niso = [100, 100]\n'
FALLS = '[light]\ntrend = "falling"\nstops_per_min = 0.2\n'
ITHACA = "[place]\nlatitude = 42.44\nlongitude = -76.5\n"
#: A clear afternoon there, the sun on its way down; and the moment at which it sets.
SUNSET = passes(
    Spot(latitude=42.44, longitude=-76.5),
    -50 / 60,
    datetime(2026, 3, 20, 20, tzinfo=UTC),
    datetime(2026, 3, 21, 2, tzinfo=UTC),
    rising=False,
)
assert SUNSET is not None


def ladder(text: str, begins: datetime | None = None) -> tuple[Plan, Ladder]:
    plan = plan_of(BASE + RUNGS + LIMITS + FILTERS + text, HEAD)
    return plan, make_ladder(plan, abilities_of(plan), begins=begins)


def said(made: Ladder) -> list[str]:
    return [one for one in made.notes if "in the forecast" in one]


def test_the_mean_over_an_opening_is_the_integral_of_the_light() -> None:
    """Light that falls by a stop a minute: over two minutes 1 - 2^-2 over 2 ln 2 of it, log2 of that."""
    from math import log

    def falls(after_s: float) -> float:
        return -after_s / 60

    assert mean_stops(falls, 0.0, 120.0) == pytest.approx(log2((1 - exp2(-2)) / (2 * log(2))), abs=0.003)
    assert mean_stops(falls, 60.0, 0.001) == pytest.approx(-1, abs=1e-4)


def test_in_steady_light_nothing_is_expected_but_the_plan() -> None:
    _, steady = ladder("")
    assert [rung.expected_s for rung in steady.rungs] == [None] * 3
    assert said(steady) == []


def test_bulb_exposures_are_expected_to_be_longer_in_light_that_falls() -> None:
    """The last one opens some six minutes on, over a stop darker, wide open at the one ISO: a stop by time is all."""
    _, falls = ladder(FALLS)
    short, two, four = falls.rungs
    assert short.expected_s is None
    assert two.expected_s is not None
    assert four.expected_s is not None
    assert 1.2 < two.expected_s / two.choice.time_s <= 2.01
    assert four.expected_s / four.choice.time_s == pytest.approx(2, abs=0.2)


def test_the_forecast_counts_them() -> None:
    """Steady and falling differ by what is expected and planned, and by nothing else."""
    _, steady = ladder("")
    _, falls = ladder(FALLS)
    more_s = sum((rung.expected_s or rung.choice.time_s) - rung.choice.time_s for rung in falls.rungs)
    more_s += sum((rung.expected_test_s or one.time_s) - one.time_s for rung in falls.rungs if (one := rung.proof))
    assert more_s > 200
    assert falls.forecast.total_s - steady.forecast.total_s == pytest.approx(more_s)


def test_it_is_said_in_one_sentence() -> None:
    _, falls = ladder(FALLS)
    (sentence,) = said(falls)
    assert sentence.startswith("Bulb rungs 2 and 3 count ")
    assert sentence.endswith(
        " min longer in the forecast: the light is expected to fall meanwhile, by 0.2 stop a minute as the plan says."
    )


def test_by_the_place_the_sun_tells() -> None:
    """From sunset on the light falls; the same ladder at noon is as planned to a second or two."""
    assert SUNSET is not None
    _, evening = ladder(ITHACA, SUNSET)
    _, noon = ladder(ITHACA, SUNSET - timedelta(hours=6))
    assert evening.forecast.total_s - noon.forecast.total_s > 60
    (sentence,) = said(evening)
    assert f"by the sun, begun at {SUNSET.astimezone():%H:%M}." in sentence


def test_without_a_beginning_the_place_tells_nothing() -> None:
    _, unknown = ladder(ITHACA)
    assert said(unknown) == []


@pytest.mark.parametrize("more", ['[readings]\ncorrect = "say"\n', "[base]\nframes = 0\n"])
def test_where_nothing_is_corrected_nothing_is_expected(more: str) -> None:
    text = BASE.replace("iso = 100\n", "iso = 100\nframes = 0\n") if "frames" in more else BASE + more
    plan = plan_of(text + RUNGS + LIMITS + FILTERS + FALLS, HEAD)
    made = make_ladder(plan, abilities_of(plan))
    assert all(rung.expected_s is None for rung in made.rungs)


def test_the_course_of_the_sun_is_that_of_the_table() -> None:
    assert SUNSET is not None
    plan, _ = ladder(ITHACA)
    sun = by_the_sun(plan, SUNSET)
    assert sun is not None
    spot = Spot(latitude=42.44, longitude=-76.5)
    then = light_stops(altitude(spot, SUNSET + timedelta(minutes=20)))
    now = light_stops(altitude(spot, SUNSET))
    assert then is not None
    assert now is not None
    assert sun(1200.0) == pytest.approx(then - now, abs=1e-6)


def test_a_rate_and_a_place_are_the_same_light_told_twice() -> None:
    """The plan's rate is what it is at the beginning; how that goes on is the sun's. It is not counted twice."""
    assert SUNSET is not None
    plan, _ = ladder(ITHACA + FALLS)
    sun = by_the_sun(plan, SUNSET)
    assert sun is not None
    ahead = light_ahead(plan, SUNSET)
    assert ahead is not None
    assert ahead(60.0) == pytest.approx(-0.2, abs=1e-9)
    assert rises_beside_stops_per_minute(plan, sun) == pytest.approx(-0.2 - sun(60.0))
    rising = replace(plan, light=plan.light.model_copy(update={"trend": "steady"}))
    assert rises_beside_stops_per_minute(rising, sun) == 0.0
