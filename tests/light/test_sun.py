"""The sun against a published worked example, an almanac, and published times; days without sunset or sunrise."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.data import rows
from tether.light.spot import Spot
from tether.light.sun import HORIZON, MOMENTS, SunDay, altitude, day_at, day_of, passes

SPA = rows("spa_example")
POSITIONS = [row for row in SPA if row["quantity"] in ("zenith_no_refraction", "elevation_no_refraction")]
TIMES = [row for row in SPA if row["set"] in ("USNO rise/set", "London")]
REYKJAVIK, TROMSO = Spot(latitude=64.1, longitude=-21.9), Spot(latitude=69.65, longitude=18.96)
spots = st.builds(Spot, latitude=st.floats(min_value=-89, max_value=89), longitude=st.floats(-180, 180))
days = st.dates(min_value=date(2020, 1, 1), max_value=date(2040, 12, 31))


def spot_of(inputs: dict[str, float]) -> Spot:
    return Spot(latitude=inputs["lat"], longitude=inputs["lon"])


@pytest.mark.parametrize("row", POSITIONS, ids=lambda row: row["set"])
def test_the_altitude_is_that_of_the_worked_example_and_of_the_almanac(row: dict[str, str]) -> None:
    """To 0.0005 degree; the tables have five figures, and heights above the sea are left out here."""
    inputs = json.loads(row["inputs"])
    utc = datetime.fromisoformat(inputs["utc"] if "utc" in inputs else inputs["ut1"])
    wanted = float(row["value"]) if row["quantity"].startswith("elevation") else 90 - float(row["value"])
    assert altitude(spot_of(inputs), utc) == pytest.approx(wanted, abs=0.0005)


@pytest.mark.parametrize("row", TIMES, ids=lambda row: f"{row['set']} {row['quantity']}")
def test_the_moments_of_a_day_are_those_of_published_tables(row: dict[str, str]) -> None:
    """To a minute, as the tables are printed."""
    inputs = json.loads(row["inputs"])
    name = row["quantity"].removesuffix("_local").replace("_", " ")
    wanted = datetime.fromisoformat(f"{inputs['date']}T{row['value']}{inputs.get('utc_offset', '+00:00')}")
    found = day_of(spot_of(inputs), date.fromisoformat(inputs["date"])).moment(name)
    assert found is not None
    assert abs(found - wanted) <= timedelta(seconds=float(row["tolerance"]))


@pytest.mark.parametrize(("name", "wanted"), [("sunrise", "2003-10-17T06:12:43"), ("sunset", "2003-10-16T17:20:19")])
def test_sunrise_and_sunset_are_those_of_the_worked_example(name: str, wanted: str) -> None:
    """To three seconds: it counts from the middle of the earth, 0.002 degree off. Its day is that of UTC, so its
    sunset, 17:20:19 by local clocks, is that of the local day before."""
    moment = datetime.fromisoformat(f"{wanted}-07:00")
    found = day_of(Spot(latitude=39.742476, longitude=-105.1786), moment.date()).moment(name)
    assert found is not None
    assert abs(found - moment) <= timedelta(seconds=3)


@pytest.mark.parametrize("row", rows("twilight_rates"), ids=lambda row: f"{row['place']} {row['altitude_deg']}")
def test_the_sinking_sun_passes_an_altitude_when_the_table_says(row: dict[str, str]) -> None:
    spot = Spot(latitude=float(row["lat_deg"]), longitude=float(row["lon_deg"]))
    wanted = datetime.fromisoformat(row["utc"])
    found = passes(
        spot, float(row["altitude_deg"]), wanted - timedelta(hours=3), wanted + timedelta(hours=3), rising=False
    )
    assert found is not None
    assert abs(found - wanted) <= timedelta(seconds=30)


def test_at_midsummer_beyond_the_polar_circle_the_sun_does_not_set() -> None:
    day = day_of(TROMSO, date(2026, 6, 21))
    assert {name: day.moment(name) for name in MOMENTS} == dict.fromkeys(MOMENTS)
    assert day.lowest == pytest.approx(69.65 + 23.44 - 90, abs=0.02), "latitude and declination, at midnight"


def test_at_midwinter_beyond_the_polar_circle_the_sun_does_not_rise_and_there_is_twilight() -> None:
    day = day_of(TROMSO, date(2026, 12, 21))
    assert day.moment("sunrise") is None
    assert day.moment("sunset") is None
    assert day.highest == pytest.approx(90 - 69.65 - 23.44, abs=0.02)
    dawn, dusk = day.moment("civil dawn"), day.moment("civil dusk")
    assert dawn is not None
    assert dusk is not None
    assert day.begins < dawn < day.noon < dusk < day.ends


def test_a_sunset_after_midnight_is_of_the_day_before() -> None:
    """Reykjavik's clocks are an hour and a half ahead of its sun: at midsummer it sets after midnight by them."""
    day = day_of(REYKJAVIK, date(2026, 6, 20))
    sunset = day.moment("sunset")
    assert sunset is not None
    assert (sunset.date(), sunset.hour) == (date(2026, 6, 21), 0)
    assert day_at(REYKJAVIK, sunset) == day
    assert day.date == date(2026, 6, 20)


@pytest.mark.prove
@settings(max_examples=50)
@given(spot=spots, day=days)
def test_a_day_has_its_moments_in_order_and_each_at_its_altitude(spot: Spot, day: date) -> None:
    found: SunDay = day_of(spot, day)
    moments = [(name, found.moment(name)) for name in MOMENTS]
    there = [(name, moment) for name, moment in moments if moment is not None]
    assert [moment for _, moment in there] == sorted(moment for _, moment in there)
    for name, moment in there:
        assert altitude(spot, moment) == pytest.approx(MOMENTS[name][0], abs=0.001)
    assert found.date == day
    assert timedelta(hours=23.9) < found.ends - found.begins < timedelta(hours=24.1)


@settings(max_examples=50)
@given(spot=spots, day=days)
def test_a_day_without_sunset_or_sunrise_is_one_that_stays_on_a_side_of_the_horizon(spot: Spot, day: date) -> None:
    found = day_of(spot, day)
    if found.moment("sunset") is None:
        assert found.lowest > HORIZON - 0.1 or found.highest < HORIZON + 0.1
    else:
        assert found.lowest <= HORIZON <= found.highest + 0.1


def test_every_moment_is_in_utc() -> None:
    assert day_at(REYKJAVIK, datetime(2026, 3, 1, 12, tzinfo=UTC)).noon.tzinfo is UTC
