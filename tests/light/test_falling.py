from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.data import rows
from tether.light.falling import brightness_after, gathered_s, open_for

rates = st.floats(min_value=-2, max_value=2)
times = st.floats(min_value=0.001, max_value=7200)


@pytest.mark.parametrize("row", rows("integral_exposure"))
def test_times_of_the_table(row: dict[str, str]) -> None:
    gathered, rate = float(row["t0_s"]), float(row["r_stops_per_min"])
    found = open_for(gathered, rate)
    if row["T_s"] == "none":
        assert found is None
        return
    assert found is not None
    assert found == pytest.approx(float(row["T_s"]), rel=1e-7)
    assert math.log2(found / gathered) == pytest.approx(float(row["stops_longer"]), abs=6e-5)


@pytest.mark.parametrize("row", [row for row in rows("integral_exposure") if row["limit_t0_s"]])
def test_all_the_light_to_come_is_the_limit_of_the_table(row: dict[str, str]) -> None:
    limit, rate = float(row["limit_t0_s"]), float(row["r_stops_per_min"])
    assert gathered_s(1e6, rate) == pytest.approx(limit, rel=1e-6)
    assert open_for(limit * 0.999, rate) is not None
    assert open_for(limit * 1.001, rate) is None


def test_a_stop_a_minute_halves_and_rising_light_doubles() -> None:
    assert brightness_after(60, 1) == 0.5
    assert brightness_after(120, 0.5) == 0.5
    assert brightness_after(60, -1) == 2
    assert brightness_after(60, 0) == 1


def test_the_gathered_light_is_the_area_under_the_brightness() -> None:
    """Against a midpoint sum of 20 000 slices, which is good to about 1e-9 here."""
    slices, open_s, rate = 20_000, 240.0, 0.4
    width = open_s / slices
    area = math.fsum(brightness_after((i + 0.5) * width, rate) * width for i in range(slices))
    assert gathered_s(open_s, rate) == pytest.approx(area, rel=1e-8)


@given(open_s=times, rate=rates)
def test_gathering_and_its_inverse_undo_each_other(open_s: float, rate: float) -> None:
    """Where nearly all the light to come is gathered, the inverse has lost the time: not asked for there."""
    gathered = gathered_s(open_s, rate)
    if brightness_after(open_s, rate) < 1e-4:
        assert gathered < open_s
        return
    assert open_for(gathered, rate) == pytest.approx(open_s, rel=1e-8)


@given(open_s=st.floats(min_value=0.001, max_value=600), rate=st.floats(min_value=1e-6, max_value=0.5))
def test_falling_light_gives_less_than_steady_and_rising_more(open_s: float, rate: float) -> None:
    assert gathered_s(open_s, rate) < open_s < gathered_s(open_s, -rate)
    assert gathered_s(open_s, rate) < gathered_s(open_s * 2, rate)


@given(open_s=times, rate=st.floats(min_value=-1e-12, max_value=1e-12))
def test_an_almost_steady_light_loses_no_figures(open_s: float, rate: float) -> None:
    assert gathered_s(open_s, rate) == pytest.approx(open_s, rel=1e-9)
    assert open_for(open_s, rate) == pytest.approx(open_s, rel=1e-9)


def test_nothing_is_gathered_in_no_time() -> None:
    assert gathered_s(0, 0.5) == 0
    assert open_for(0, 0.5) == 0
