"""A correction keeps the picture: by time least where the time is the picture; written down before it was run."""

from __future__ import annotations

from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.plan.plans import HEAD, abilities_of, plan_of
from tether.exposure.stops import aperture_stops, iso_stops, time_stops
from tether.plan.choices import make_space
from tether.plan.correcting import by_time_at_most, correct
from tether.plan.planner import make_ladder

FILTERS = "".join(f'[[filter]]\nname = "Calder {n}"\nstops = {n}\nmeasured_stops = {n}.0\n' for n in (6, 10))
TEXT = '[base]\ntime = "1/60"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["1/250", "1", "2m"]\n'
LIMITS = '[limits]\naperture = ["f/4", "f/16"]\niso = [100, 800]\n'
PLAN = plan_of(TEXT + LIMITS + FILTERS, HEAD)
ABILITIES = abilities_of(PLAN)
RUNGS = {rung.wanted.label: rung.choice for rung in make_ladder(PLAN, ABILITIES).rungs}


def made(label: str, brighter: float, known: tuple[float, ...] = ()) -> tuple[float, float, float, float]:
    """Return how much brighter a correction makes a rung by time, ISO and aperture, and what is left [stops]."""
    choice = RUNGS[label]
    found = correct(make_space(PLAN, ABILITIES, (choice.stack,)), choice, brighter, known)
    assert found is not None
    new = found.choice
    return (
        time_stops(new.time_s, choice.time_s),
        iso_stops(new.iso.exact, choice.iso.exact),
        aperture_stops(new.aperture.exact, choice.aperture.exact),
        found.left_stops,
    )


@pytest.mark.parametrize(
    ("time_s", "stops"),
    [(1 / 60, 1 / 3), (8.0, 1 / 3), (15.5, 1 / 3 + 0.5 * 2 / 3), (30.0, 1.0), (240.0, 1.0)],
)
def test_how_much_a_time_may_give(time_s: float, stops: float) -> None:
    """A third up to 8 s, a stop from 30 s on, in proportion between: 15.5 s is half the way in stops."""
    assert by_time_at_most(time_s) == pytest.approx(stops, abs=0.003)


@pytest.mark.parametrize(
    ("brighter", "by_time", "by_iso"),
    [(0.1, 0, 0), (1 / 3, 1 / 3, 0), (2 / 3, 1 / 3, 1 / 3), (4 / 3, 1 / 3, 1), (2.0, 1 / 3, 5 / 3)],
)
def test_one_second_is_corrected_by_a_third_in_time_and_then_by_iso(
    brighter: float, by_time: float, by_iso: float
) -> None:
    time, iso, aperture, left = made("1", brighter)
    assert (time, iso, aperture) == pytest.approx((by_time, by_iso, 0.0), abs=0.03)
    assert left == 0.0


def test_the_aperture_gives_last() -> None:
    """ISO goes to 800 and no further; what is more comes from the aperture."""
    choice = RUNGS["1"]
    most_iso = log2(800 / choice.iso.exact)
    time, iso, aperture, left = made("1", most_iso + 1 / 3 + 2 / 3)
    assert (time, iso, aperture) == pytest.approx((1 / 3, most_iso, 2 / 3), abs=0.03)
    assert left == 0.0


def test_a_bulb_exposure_is_corrected_by_time_exactly_up_to_a_stop() -> None:
    assert made("2:00", 0.83) == pytest.approx((0.83, 0.0, 0.0, 0.0), abs=1e-6)
    assert made("2:00", -0.5) == pytest.approx((-0.5, 0.0, 0.0, 0.0), abs=1e-6)
    time, iso, aperture, left = made("2:00", 1.4)
    assert (time + iso, aperture, left) == pytest.approx((1.4, 0.0, 0.0), abs=1e-6)
    assert iso == pytest.approx(2 / 3, abs=0.03) or iso == pytest.approx(1 / 3 + 1 / 3, abs=0.35)


def test_a_bulb_exposure_takes_an_iso_whose_step_a_frame_has_told() -> None:
    base = RUNGS["2:00"].iso.exact
    _, iso, _, left = made("2:00", 1.4, known=(base * 2,))
    assert (iso, left) == pytest.approx((1.0, 0.0), abs=0.03)


def test_what_the_limits_leave_no_way_for_is_made_as_far_as_it_can_be_and_the_rest_is_told() -> None:
    """One second: a third by time, ISO up to 800, two stops of aperture at most, f/4 at the widest."""
    choice = RUNGS["1"]
    wider = min(2.0, aperture_stops(4.0, choice.aperture.exact))
    most = 1 / 3 + log2(800 / choice.iso.exact) + wider
    *_, left = made("1", most + 2.0)
    assert left == pytest.approx(2.0 - 1 / 6, abs=0.1)


@given(st.sampled_from(list(RUNGS)), st.floats(-3, 5))
def test_nothing_is_lost_between_what_is_made_and_what_is_left(label: str, brighter: float) -> None:
    choice = RUNGS[label]
    time, iso, aperture, left = made(label, brighter)
    rest = brighter - (time + iso + aperture) + choice.error_stops
    rounding = PLAN.limits.time_off_stops
    assert abs(rest - left) <= (1e-6 if choice.way == "held" else rounding + 1e-6)
    assert abs(time) <= by_time_at_most(choice.time_s) + 0.021
