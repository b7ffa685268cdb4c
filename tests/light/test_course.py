"""Exposure as an integral over any course of the light: closed form, quadrature, and the light of real evenings."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise
from math import exp2

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from tests.data import rows
from tether.light.course import Course
from tether.light.falling import gathered_s, open_for
from tether.light.spot import Spot
from tether.light.twilight import expected_course

steps = st.tuples(st.floats(min_value=1, max_value=300), st.floats(min_value=-2, max_value=2))
tables = st.lists(steps, min_size=1, max_size=8)


def table_of(steps: list[tuple[float, float]]) -> Course:
    points = [(0.0, 0.0)]
    for length_s, stops in steps:
        points.append((points[-1][0] + length_s, stops))
    return Course(points=tuple(points))


def falling(rate: float) -> Course:
    return Course(points=((0.0, 0.0),), then_stops_per_minute=rate)


@pytest.mark.parametrize("row", rows("integral_exposure"))
def test_one_rate_for_ever_gives_the_times_of_the_closed_form(row: dict[str, str]) -> None:
    found = falling(float(row["r_stops_per_min"])).open_for(float(row["t0_s"]), 0)
    assert found == (None if row["T_s"] == "none" else pytest.approx(float(row["T_s"]), rel=1e-7))


@pytest.mark.parametrize("row", rows("integral_exposure_twilight"), ids=lambda row: f"{row['place']} {row['t0_s']}")
def test_real_evenings_give_the_times_of_the_table(row: dict[str, str]) -> None:
    """To 2 %, as the table says of itself."""
    start = datetime.fromisoformat(f"{row['date']}T{row['start_utc']}+00:00")
    spot = Spot(latitude=float(row["lat_deg"]), longitude=float(row["lon_deg"]))
    course = expected_course(spot, start, start + timedelta(hours=2))
    assert course is not None
    found = course.open_for(float(row["t0_s"]), 0)
    assert found == (None if row["T_model_s"] == "none" else pytest.approx(float(row["T_model_s"]), rel=0.02))
    assert course.gathered_s(0, course.points[-1][0]) == pytest.approx(float(row["worth_s"]), rel=0.02)


def test_steady_light_takes_as_long_as_it_is() -> None:
    steady = Course(points=((0.0, -1.0),), then_stops_per_minute=0.0)
    assert steady.open_for(30, 1000) == 60
    assert steady.gathered_s(5, 60) == 30
    assert steady.stops_at(1e6) == -1


@given(steps=tables, at=st.floats(min_value=0, max_value=1), share=st.floats(min_value=0.001, max_value=0.99))
def test_a_table_gathers_the_area_under_it_by_quadrature(
    steps: list[tuple[float, float]], at: float, share: float
) -> None:
    course = table_of(steps)
    end_s = course.points[-1][0]
    opens_at_s = at * end_s * 0.5
    open_s = share * (end_s - opens_at_s)

    def light(moment_s: float) -> float:
        (before_s, before), (after_s, after) = next(
            (one, two) for one, two in pairwise(course.points) if two[0] >= moment_s
        )
        return exp2(before + (after - before) * (moment_s - before_s) / (after_s - before_s))

    breaks = [moment_s for moment_s, _ in course.points if opens_at_s < moment_s < opens_at_s + open_s]
    edges = [opens_at_s, *breaks, opens_at_s + open_s]
    area = sum(quad(light, one, two)[0] for one, two in pairwise(edges))
    gathered = course.gathered_s(opens_at_s, open_s)
    assert gathered == pytest.approx(area, rel=1e-7)
    assert gathered is not None
    assert course.open_for(gathered, opens_at_s) == pytest.approx(open_s, rel=1e-6)


@given(rate=st.floats(min_value=-1, max_value=1), gathered=st.floats(min_value=0.01, max_value=600))
def test_a_table_of_one_rate_is_that_rate(rate: float, gathered: float) -> None:
    course = Course(points=tuple((60.0 * at, -rate * at) for at in range(61)))
    wanted = open_for(gathered, rate)
    found = course.open_for(gathered, 0)
    if wanted is not None and wanted < 3500:
        assert found == pytest.approx(wanted, rel=1e-6)
        assert course.gathered_s(0, wanted) == pytest.approx(gathered_s(wanted, rate), rel=1e-9)
    elif wanted is None:
        assert found is None


def test_where_the_light_is_not_known_no_time_suffices_and_nothing_is_gathered() -> None:
    course = Course(points=((0.0, 0.0), (60.0, -1.0)))
    assert course.open_for(60, 0) is None, "a minute that halves is worth 43 s"
    assert course.gathered_s(0, 61) is None
    assert course.gathered_s(-1, 10) is None
    assert course.open_for(1, -1) is None
    assert course.stops_at(60) is None


def test_a_table_may_go_on_at_a_rate() -> None:
    course = Course(points=((0.0, 0.0), (60.0, -1.0)), then_stops_per_minute=1.0)
    assert course.open_for(60, 0) == pytest.approx(open_for(60, 1.0))
    assert course.open_for(90, 0) is None
    assert course.stops_at(120) == -2
