"""Which times are wanted."""

from __future__ import annotations

from itertools import pairwise
from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.plan.plans import plan_of
from tether.exposure.marks import Step
from tether.exposure.optics import streak_px
from tether.plan.wanted import FINE_FROM_S, FINE_TO_S, default_times, even_times, wanted_rungs

BASE = '[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\n'
PITCH_UM = 4.35


def labels(text: str) -> list[str]:
    return [one.time.label for one in wanted_rungs(plan_of(BASE + text), PITCH_UM, Step.THIRD)]


def test_default_steps_are_a_stop_where_water_changes_and_two_elsewhere() -> None:
    assert labels('[rungs]\nfrom = "1/2000"\nto = "4m"\n') == [
        *("1/2000", "1/500", "1/125", "1/30"),
        *("1/15", "1/8", "1/4", "0.5", "1", "2", "4"),
        *("15", "1:04", "4:00"),
    ]


def test_three_frames_between_an_eighth_and_two_seconds() -> None:
    rungs = wanted_rungs(plan_of(BASE + '[rungs]\nfrom = "1/15"\nto = "4"\n'), PITCH_UM, Step.THIRD)
    assert [one.frames for one in rungs] == [1, 3, 3, 3, 3, 3, 1]


def test_an_entry_of_its_own_wins_over_the_range() -> None:
    text = '[rungs]\nfrom = "1/4"\nto = "1"\n[[rung]]\ntime = "0.5"\nframes = 7\ntaken = "on my key"\n'
    rungs = wanted_rungs(plan_of(BASE + text), PITCH_UM, Step.THIRD)
    assert [(one.time.label, one.frames, one.taken) for one in rungs] == [
        ("1/4", 3, "at once"),
        ("0.5", 7, "on my key"),
        ("1", 3, "at once"),
    ]


def test_a_streak_length_becomes_the_time_that_draws_it() -> None:
    text = "[rungs]\nstreaks_px = [40]\n[water]\nspeed_m_s = 0.8\ndistance_m = 6.0\n"
    (rung,) = wanted_rungs(plan_of(BASE + text), PITCH_UM, Step.THIRD)
    drawn = streak_px(0.8, rung.time.exact, focal_mm=24, distance_m=6.0, pitch_um=PITCH_UM)
    assert rung.time.label == "1/20"  # "about": the nearest mark does
    assert abs(log2(drawn / 40)) < 0.25


ends = st.tuples(st.floats(-13, 11), st.floats(0.2, 20)).map(lambda pair: (2.0 ** pair[0], 2.0 ** (pair[0] + pair[1])))


@given(ends)
def test_default_times_hold_their_ends_and_their_steps(between: tuple[float, float]) -> None:
    times = default_times(*between)
    assert times[0] == between[0]
    assert times[-1] == between[1]
    for shorter, longer in pairwise(times):
        step = log2(longer / shorter)
        assert 0 < step < 2 + 2 / 3
        if shorter >= FINE_FROM_S * 0.99 and longer <= FINE_TO_S * 1.01:
            assert step < 1 + 2 / 3


@given(ends, st.sampled_from([0.5, 1 / 3, 1.0, 2.0]))
def test_even_times_are_even(between: tuple[float, float], step: float) -> None:
    times = even_times(*between, step)
    assert times[0] == between[0]
    assert times[-1] == pytest.approx(between[1], rel=0.036)
    for shorter, longer in pairwise(times[:-1]):
        assert log2(longer / shorter) == pytest.approx(step)
