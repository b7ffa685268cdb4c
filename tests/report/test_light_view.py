"""The expected light in the terminal: moments by the clock, what the sky is called, and what is not known."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

import pytest

from tests.report.printing import printed
from tether.report.light_view import LightView, sky

MOMENTS = ("sunrise", "sunset", "civil dawn", "civil dusk", "nautical dawn", "nautical dusk", "astronomical dawn",
           "astronomical dusk")  # fmt: skip


@pytest.mark.parametrize(
    ("sun_deg", "name"),
    [
        (10.0, "day"),
        (-0.8, "day"),
        (-0.9, "civil twilight"),
        (-6.0, "civil twilight"),
        (-6.1, "nautical twilight"),
        (-12.1, "astronomical twilight"),
        (-18.1, "night"),
    ],
)
def test_the_sky_is_called_by_how_low_the_sun_is(sun_deg: float, name: str) -> None:
    """Civil, nautical and astronomical twilight end at 6, 12 and 18 degrees; the horizon is 50 minutes below 0."""
    assert sky(sun_deg) == name


def expected(**changes: Any) -> dict[str, Any]:
    day = {
        "date": "2024-03-20",
        "highest_utc": "2024-03-20T12:07:00Z",
        "highest_deg": 38.6,
        "lowest_utc": "2024-03-21T00:07:00Z",
        "lowest_deg": -38.0,
        "moments": dict.fromkeys(MOMENTS, "2024-03-20T18:13:49Z"),
    }
    line = {"utc": "2024-03-20T18:00:00Z", "sun_deg": 1.24, "light_stops": 0.0, "change_stops_per_min": -0.05}
    usual = {
        "place": {"name": "a weir", "latitude": 51.5, "longitude": -0.1},
        "day": day,
        "from_utc": "2024-03-20T18:00:00Z",
        "until_utc": "2024-03-20T19:00:00Z",
        "course": [line],
        "plan": None,
        "not_in_it": "Cloud is not in it.",
    }
    return usual | changes


def text(zone: str = "UTC", **changes: Any) -> str:
    return " ".join(printed(LightView(expected(**changes), ZoneInfo(zone)), 120).split())


def test_moments_are_told_by_the_clock_to_the_nearest_minute_with_another_day_named() -> None:
    assert "sunset 18:14" in text()
    assert "sunset 19:14" in text("Europe/Berlin")
    assert "sunset 07:14 (2024-03-21)" in text("Pacific/Auckland")
    assert "Light at a weir (51.5° N, 0.1° W)" in text()


def course(change: float | None, light: float | None = -1.0, sun_deg: float = -3.0) -> str:
    line = {"utc": "2024-03-20T18:30:00Z", "sun_deg": sun_deg, "light_stops": light, "change_stops_per_min": change}
    whole = text(course=[line])
    return whole[whole.index("18:30") :].split(" Light: stops")[0]


@pytest.mark.parametrize(
    ("change", "light", "row"),
    [
        (-0.05, -1.0, "18:30 -3.0° civil twilight -1.00 -0.050 20 min"),
        (0.0029, -1.0, "18:30 -3.0° civil twilight -1.00 +0.003 steady"),
        (-0.0004, 0.0, "18:30 -3.0° civil twilight 0.00 0.000 steady"),
        (None, None, "18:30 -3.0° civil twilight – – –"),
    ],
)
def test_a_line_says_light_pace_and_how_long_a_stop_takes(change: float | None, light: float | None, row: str) -> None:
    """A stop at 0.05 a minute takes twenty minutes."""
    assert course(change, light) == row


def test_there_is_no_minus_nothing() -> None:
    assert course(-0.05, sun_deg=-0.04).startswith("18:30 0.0°")


def day(highest: float, lowest: float, *none: str) -> dict[str, Any]:
    found: dict[str, Any] = expected()["day"]
    return found | {
        "highest_deg": highest,
        "lowest_deg": lowest,
        "moments": {name: None if name in none else at for name, at in found["moments"].items()},
    }


@pytest.mark.parametrize(
    ("of", "said", "unsaid"),
    [
        (day(38.6, -38.0), "", "sun does not"),
        (day(43.8, 2.9, "sunset", "sunrise"), "The sun does not set on this day", "fully dark"),
        (day(43.8, -0.1, "sunset", "sunrise"), "and is still seen: the air lifts it.", "fully dark"),
        (day(43.8, 2.9, "sunset", "sunrise"), "above the horizon.", "lifts"),
        (day(-3.1, -43.8, "sunset", "sunrise"), "The sun does not rise on this day: at its highest", "fully dark"),
        (day(49.3, -2.5), "It does not get fully dark: the sun stays above -18°", "sun does not set"),
    ],
)
def test_why_there_is_no_sunset_sunrise_or_darkness_is_said(of: dict[str, Any], said: str, unsaid: str) -> None:
    whole = text(day=of)
    assert said in whole
    assert unsaid not in whole
    assert ("no sunset" in whole) == (of["moments"]["sunset"] is None)


def rung(**changes: Any) -> dict[str, Any]:
    usual = {
        "rung": 2,
        "time_s": 128.0,
        "opens_utc": "2024-03-20T18:10:00Z",
        "sun_deg": 0.0,
        "light_stops": -0.5,
        "same_light_s": 192.0,
        "after_leave_by": False,
    }
    return usual | changes


def plan(*rungs: dict[str, Any], leave: str | None = None) -> dict[str, Any]:
    return {"title": "Weir", "forecast_s": 900.0, "leave_by_utc": leave, "long_rungs": list(rungs)}


def test_long_rungs_are_told_with_the_time_that_gives_the_same_light() -> None:
    whole = text(plan=plan(rung(), rung(rung=3, same_light_s=None, after_leave_by=True), leave="2024-03-20T18:12:00Z"))
    assert "Weir, begun and its base metered at 18:00: 15 min in all" in whole
    assert "2 2:08 min 18:10 0.0° -0.50 3:12 min" in whole
    assert "3* 2:08 min 18:10 0.0° -0.50 too little light left" in whole
    assert "Leave by 18:12; * ends later and would be left out." in whole
    assert "It has no rung of 30 s or more." in text(plan=plan())
