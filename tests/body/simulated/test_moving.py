"""What moves, averaged over an opening."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tether.body.simulated.moving import Drifting, Field, Swaying, spectrum_of

SHAPE = (64, 512)


def drop(sigma_px: float = 3.0) -> Field:
    """Return one soft drop in the middle of a dark patch."""
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]].astype(np.float32)
    distance2 = (y - SHAPE[0] / 2) ** 2 + (x - SHAPE[1] / 2) ** 2
    return np.asarray(np.exp(-distance2 / (2 * sigma_px**2)), dtype=np.float32)


def drifting(velocity_px_s: tuple[float, float]) -> Drifting:
    return Drifting(spectrum=spectrum_of(drop()), shape=SHAPE, velocity_px_s=velocity_px_s)


def spread_px(field: Field) -> tuple[float, float]:
    """Return the centre and the standard deviation of a field along x [px]."""
    along = field.sum(axis=0).astype(np.float64)
    x = np.arange(SHAPE[1])
    centre = float((along * x).sum() / along.sum())
    return centre, math.sqrt(float((along * (x - centre) ** 2).sum() / along.sum()))


@pytest.mark.parametrize(
    ("speed_m_s", "focal_mm", "pitch_um", "distance_m", "open_s"),
    [(0.5, 24, 4.35, 10, 0.25), (2.0, 35, 4.35, 8, 1 / 16), (0.05, 16, 3.76, 6, 1.0)],
)
def test_streak_is_v_t_f_over_p_d(
    speed_m_s: float, focal_mm: float, pitch_um: float, distance_m: float, open_s: float
) -> None:
    # v t f/(p D): motion across the view, D >> f. A box of length L adds L²/12 to the variance of what it smears.
    streak_px = speed_m_s * open_s * focal_mm * 1e-3 / (pitch_um * 1e-6 * distance_m)
    _, deviation_px = spread_px(drifting((0.0, streak_px / open_s)).averaged(0.0, open_s))
    assert math.sqrt(12 * (deviation_px**2 - 3.0**2)) == pytest.approx(streak_px, rel=0.005)


def test_drop_is_where_it_should_be() -> None:
    centre, deviation = spread_px(drifting((0.0, 40.0)).averaged(2.0, 1e-4))
    assert centre == pytest.approx(256 + 80, abs=0.05)
    assert deviation == pytest.approx(3.0, abs=0.01)


@given(open_s=st.floats(1 / 32_000, 10_000), start_s=st.floats(0, 10_000))
@settings(max_examples=30, deadline=None)
def test_light_of_water_does_not_depend_on_time(open_s: float, start_s: float) -> None:
    mean = drifting((700.0, 90.0)).averaged(start_s, open_s).mean()
    assert mean == pytest.approx(drop().mean(), rel=1e-4)


@given(first_s=st.floats(0.001, 2), second_s=st.floats(0.001, 2))
@settings(max_examples=30, deadline=None)
def test_two_openings_in_a_row_make_one(first_s: float, second_s: float) -> None:
    water = drifting((37.0, 90.0))
    both = water.averaged(1.0, first_s + second_s) * (first_s + second_s)
    parts = water.averaged(1.0, first_s) * first_s + water.averaged(1.0 + first_s, second_s) * second_s
    assert np.abs(both - parts).max() < 2e-5


def test_an_hour_smooths_what_a_moment_shows() -> None:
    water = drifting((37.0, 90.0))
    assert water.averaged(0.0, 0.001).std() > 0.02
    assert water.averaged(0.0, 3600.0).std() < 0.001


def swaying() -> Swaying:
    shape = spectrum_of(drop())
    return Swaying(cover=shape, light=shape, shape=SHAPE, reach_px=(0.0, 8.0), hz=0.5, phase=0.0)


def test_leaf_swings() -> None:
    centre, deviation = spread_px(swaying().averaged(0.5, 1e-3)[0])  # a quarter of its period: at its end
    assert centre == pytest.approx(256 + 8, abs=0.05)
    assert deviation == pytest.approx(3.0, abs=0.01)


@pytest.mark.parametrize("open_s", [2.0, 4.0, 100.7])
def test_leaf_blurs_over_whole_swings(open_s: float) -> None:
    # The variance of a sine of amplitude a is a²/2.
    centre, deviation = spread_px(swaying().averaged(0.3, open_s)[0])
    assert centre == pytest.approx(256, abs=0.1)
    assert deviation == pytest.approx(math.sqrt(3.0**2 + 8.0**2 / 2), rel=0.01)
