"""The light expected by the sun, as data: the moments of its table, and a ladder that would begin with it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from tests.plan.plans import TEN, ladder_of
from tether.light.spot import Spot
from tether.light.sun import day_of
from tether.report.expected_light import Expected, LadderThen, light_json, moments

#: A quarter of an hour before the sunset of an equinox at Greenwich.
EVENING = datetime(2024, 3, 20, 18, 0, tzinfo=UTC)
SPOT = Spot(latitude=51.5, longitude=0.0)
LADDER = ladder_of(
    '[base]\ntime = "1/8"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["1/8", "2m"]\nframes = 1\n' + TEN
)


@pytest.mark.parametrize(
    ("start", "minutes", "table"),
    [
        ("18:00", 30, ["18:00", "18:05", "18:10", "18:15", "18:20", "18:25", "18:30"]),
        # Fourteen lines of five minutes are 70, so it is every ten; what is nearer than a third of that is left out.
        ("18:02", 71, ["18:02", "18:10", "18:20", "18:30", "18:40", "18:50", "19:00", "19:13"]),
        ("18:00", 1, ["18:00", "18:01"]),
    ],
)
def test_a_table_has_round_moments_between_its_ends(start: str, minutes: int, table: list[str]) -> None:
    hour, minute = map(int, start.split(":"))
    begins = EVENING.replace(hour=hour, minute=minute)
    found = [f"{one:%H:%M}" for one in moments(begins, begins + timedelta(minutes=minutes))]
    assert found == table


@pytest.mark.parametrize("hours", [1, 2, 6, 12, 24, 36])
def test_a_table_is_never_long(hours: int) -> None:
    assert len(moments(EVENING, EVENING + timedelta(hours=hours))) <= 20


def asked(leave: datetime | None = None, opens_at_s: tuple[float, float] = (10.0, 600.0)) -> Expected:
    then = LadderThen(ladder=LADDER, opens_at_s=opens_at_s, leave=leave)
    end = EVENING + timedelta(hours=1)
    return Expected(name="", spot=SPOT, day=day_of(SPOT, date(2024, 3, 20)), start=EVENING, end=end, then=then)


def test_only_rungs_of_half_a_minute_and_more_are_told_of_each_as_it_opens() -> None:
    plan = light_json(asked())["plan"]
    (rung,) = plan["long_rungs"]
    assert (rung["rung"], rung["opens_utc"]) == (2, "2024-03-20T18:10:00Z")
    assert rung["time_s"] == pytest.approx(128.0)
    assert rung["light_stops"] < 0
    assert rung["same_light_s"] > rung["time_s"]
    assert plan["forecast_s"] == LADDER.forecast.total_s


@pytest.mark.parametrize(("leave_s", "after"), [(None, False), (729.0, False), (727.0, True)])
def test_a_rung_that_would_end_after_the_time_to_leave_is_marked(leave_s: float | None, after: bool) -> None:
    """It opens after 600 s and is open for 128."""
    leave = None if leave_s is None else EVENING + timedelta(seconds=leave_s)
    plan = light_json(asked(leave))["plan"]
    assert plan["long_rungs"][0]["after_leave_by"] == after
    assert (plan["leave_by_utc"] is None) == (leave is None)


def test_the_light_begins_at_nothing_and_falls_and_without_a_plan_there_is_none() -> None:
    found = light_json(replace(asked(), then=None))
    assert found["plan"] is None
    assert found["course"][0]["light_stops"] == 0
    assert found["course"][-1]["light_stops"] < -3
    assert all(line["change_stops_per_min"] < 0 for line in found["course"][1:])
    assert found["place"] == {"name": "", "latitude": 51.5, "longitude": 0.0}
    assert (found["from_utc"], found["until_utc"]) == ("2024-03-20T18:00:00Z", "2024-03-20T19:00:00Z")
