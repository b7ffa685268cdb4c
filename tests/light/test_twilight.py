"""The expected light against the published table, its numbers, measured evenings, and the pace of eight evenings."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.data import rows
from tether.light.spot import Spot
from tether.light.sun import altitude
from tether.light.twilight import expected_course, falls_stops_per_minute, light_stops

ILLUMINANCE = rows("twilight_illuminance")


def known(altitude_deg: float) -> float:
    found = light_stops(altitude_deg)
    assert found is not None
    return found


@pytest.mark.parametrize("row", rows("twilight_coefficients"), ids=lambda row: row["alt_from_deg"])
def test_the_polynomials_are_the_published_ones(row: dict[str, str]) -> None:
    middle = (float(row["alt_from_deg"]) + float(row["alt_to_deg"])) / 2
    logarithm = sum(float(row[f"l{power}"]) * (middle / 90) ** power for power in range(4))
    assert known(middle) == pytest.approx(logarithm / 0.30102999566, abs=1e-6)


@pytest.mark.parametrize("row", ILLUMINANCE, ids=lambda row: row["altitude_deg"])
def test_the_level_is_that_of_the_table(row: dict[str, str]) -> None:
    found = known(float(row["altitude_deg"]))
    assert found == pytest.approx(log2(float(row["model_lux"])), abs=0.02)
    assert found - known(0) == pytest.approx(float(row["stops_rel_0deg"]), abs=0.02)


@pytest.mark.parametrize(
    "row", [row for row in ILLUMINANCE if row["rural_median_lux"]], ids=lambda row: row["altitude_deg"]
)
def test_measured_evenings_lie_up_to_a_stop_and_a_half_below_it(row: dict[str, str]) -> None:
    assert -0.1 < known(float(row["altitude_deg"])) - log2(float(row["rural_median_lux"])) < 1.5


@pytest.mark.parametrize("row", rows("twilight_rates"), ids=lambda row: f"{row['place']} {row['altitude_deg']}")
def test_the_pace_is_that_of_the_table(row: dict[str, str]) -> None:
    spot = Spot(latitude=float(row["lat_deg"]), longitude=float(row["lon_deg"]))
    found = falls_stops_per_minute(spot, datetime.fromisoformat(row["utc"]))
    assert found == pytest.approx(float(row["stops_per_min"]), abs=0.02)


@given(lower=st.floats(min_value=-18, max_value=89), by=st.floats(min_value=0.05, max_value=5))
def test_a_higher_sun_gives_more_light(lower: float, by: float) -> None:
    assert known(min(lower + by, 90)) > known(lower)


@pytest.mark.parametrize("seam", [20.0, 5.0, -0.8, -5.0, -12.0])
def test_at_a_seam_of_the_table_the_light_does_not_jump(seam: float) -> None:
    assert known(seam) == pytest.approx(known(seam - 1e-9), abs=0.016)


def test_below_the_table_nothing_is_said() -> None:
    assert light_stops(-18.001) is None
    equator, night = Spot(latitude=0, longitude=0), datetime(2024, 3, 20, 23, tzinfo=UTC)
    assert falls_stops_per_minute(equator, night) is None
    assert expected_course(equator, night, night + timedelta(hours=1)) is None


def test_the_course_of_an_evening_begins_at_nothing_and_ends_where_the_table_does() -> None:
    spot, start = Spot(latitude=51.5, longitude=0), datetime(2024, 3, 20, 18, 13, 49, tzinfo=UTC)
    course = expected_course(spot, start, start + timedelta(hours=5))
    assert course is not None
    assert course.points[0] == (0.0, 0.0)
    assert course.stops_at(6 * 60) == pytest.approx(-0.95, abs=0.1), "0.149 stop/min and quickening"
    last_s = course.points[-1][0]
    assert (
        altitude(spot, start + timedelta(seconds=last_s))
        >= -18
        > altitude(spot, start + timedelta(seconds=last_s + 60))
    )
    assert course.stops_at(last_s + 1) is None


def test_a_course_reaches_to_the_end_that_is_asked_for() -> None:
    spot, start = Spot(latitude=51.5, longitude=0), datetime(2024, 6, 20, 12, 0, 30, tzinfo=UTC)
    course = expected_course(spot, start, start + timedelta(minutes=10, seconds=5))
    assert course is not None
    assert course.stops_at(605) is not None
