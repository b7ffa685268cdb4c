"""A start by the sun: what is read, which moment is meant, and what is said where there is none."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.data import rows
from tether.errors import PlanError
from tether.light.spot import Spot
from tether.light.sun import altitude
from tether.service.start_time import parse_start

LONDON, TROMSO = Spot(latitude=51.5, longitude=0.0), Spot(latitude=69.65, longitude=18.96)
ZONE = ZoneInfo("Europe/London")
#: Two hours before the sunset of an equinox.
NOW = datetime(2024, 3, 20, 16, 0, tzinfo=UTC)
#: When the sun passes altitudes that evening, by a table.
RATES = {row["altitude_deg"]: row["utc"] for row in rows("twilight_rates") if row["place"] == "51.5 N 0 E, equinox"}


def start(at: str, now: datetime = NOW, spot: Spot | None = LONDON) -> datetime:
    return parse_start(at, None, now, ZONE, spot)


def refusal(at: str, now: datetime = NOW, spot: Spot | None = LONDON) -> str:
    with pytest.raises(PlanError) as caught:
        start(at, now, spot)
    return str(caught.value)


@pytest.mark.parametrize(
    ("at", "altitude_deg", "minutes"),
    [
        ("sunset", "-0.8333", 0),
        ("Sunset", "-0.8333", 0),
        ("sunset-40m", "-0.8333", -40),
        ("sunset - 40m", "-0.8333", -40),
        ("sunset+10m", "-0.8333", 10),
        ("sunset-1h30m", "-0.8333", -90),
        ("civil dusk", "-6", 0),
        ("civil dusk -5m", "-6", -5),
        ("sun at -6", "-6", 0),
        ("sun at -6 falling", "-6", 0),
        ("sun at -3°", "-3", 0),
        ("sun at -9 -10m", "-9", -10),
    ],
)
def test_a_moment_of_the_sun_is_when_the_table_says(at: str, altitude_deg: str, minutes: int) -> None:
    wanted = datetime.fromisoformat(RATES[altitude_deg]) + timedelta(minutes=minutes)
    assert abs(start(at) - wanted) <= timedelta(seconds=30)
    assert start(at).tzinfo is UTC


@pytest.mark.parametrize(
    ("at", "hour"), [("sunrise", 6), ("sunrise+2h", 8), ("sun at -6 rising", 5), ("nautical dawn", 4)]
)
def test_a_morning_is_the_next_one(at: str, hour: int) -> None:
    found = start(at)
    assert (found.day, found.hour) in ((21, hour), (21, hour - 1))


def test_a_sunset_that_is_past_is_the_next_days_and_with_a_while_after_it_may_be_todays() -> None:
    after = datetime(2024, 3, 20, 18, 20, tzinfo=UTC)
    assert start("sunset", after).date() == after.date() + timedelta(days=1)
    assert start("sunset+10m", after).date() == after.date()
    before = datetime(2024, 3, 20, 17, 50, tzinfo=UTC)
    assert start("sunset-40m", before).date() == before.date() + timedelta(days=1)


@given(minutes=st.integers(min_value=-600, max_value=600), now_min=st.integers(min_value=0, max_value=1440))
def test_a_start_lies_ahead_and_within_a_day_or_so(minutes: int, now_min: int) -> None:
    now = NOW + timedelta(minutes=now_min)
    found = start(f"sunset{minutes:+d}m", now)
    assert now < found <= now + timedelta(hours=25)
    assert altitude(LONDON, found - timedelta(minutes=minutes)) == pytest.approx(-0.833, abs=0.002)


def test_where_the_sun_does_not_set_a_sentence_says_so_and_how_it_goes() -> None:
    """At 69.65 degrees the midsummer sun goes from 3.1 to 43.8 degrees, by latitude and declination."""
    said = refusal("sunset", datetime(2026, 6, 21, 12, tzinfo=UTC), TROMSO)
    assert "there is no sunset within a day at 69.65° N, 18.96° E" in said
    assert "from 3.1° above the horizon to 43.8° above the horizon" in said


def test_where_the_sun_does_not_rise_twilight_may_still_be_named() -> None:
    midwinter = datetime(2026, 12, 21, 6, tzinfo=UTC)
    assert "there is no sunrise within a day" in refusal("sunrise", midwinter, TROMSO)
    assert start("civil dusk", midwinter, TROMSO).hour == 12
    assert "there is no sun at 20° within a day" in refusal("sun at 20 rising", midwinter, TROMSO)


def test_without_a_place_it_says_what_to_write() -> None:
    assert "write latitude and longitude in its [place]" in refusal("sunset", spot=None)


@pytest.mark.parametrize(
    "at", ["sunset-", "sunset-40", "sun at", "sun at dusk", "sunset+h", "dusk", "sun at 100", "sunday"]
)
def test_what_cannot_be_read_is_told_with_what_can(at: str) -> None:
    said = refusal(at)
    assert said.startswith(f"--at {at}: cannot be read as a start by the sun; write sunset, sunrise")


def test_the_forms_of_a_moment_name_the_sun() -> None:
    assert "sunset, sunrise" in refusal("25:00")
