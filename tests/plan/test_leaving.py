"""When the person must be gone: their own time to leave, or the last safe exit that they typed from a tide table."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta, timezone

import pytest

from tests.plan.plans import BASE, ladder_of, plan_of
from tether.errors import PlanError
from tether.plan.leaving import Moment, earlier, leave_moment

RUNGS = '[rungs]\ntimes = ["1/125"]\n'
COAST = '[place]\nwater = "coast"\n' + BASE + RUNGS
EVENING = datetime(2026, 10, 3, 18, 30).astimezone()


@pytest.mark.parametrize(
    ("now", "leave", "expected_hours"),
    [
        ((17, 0), time(18, 40), 1 + 40 / 60),
        ((19, 0), time(18, 40), -20 / 60),
        ((23, 30), time(1, 0), 1.5),
        ((1, 30), time(23, 0), -2.5),
    ],
)
def test_leave_by_is_the_nearest_such_time_of_day(now: tuple[int, int], leave: time, expected_hours: float) -> None:
    at = datetime(2026, 10, 3, *now).astimezone()
    moment = leave_moment(leave, at)
    assert moment is not None
    assert (moment - at).total_seconds() / 3600 == pytest.approx(expected_hours)


def test_a_date_and_time_to_leave_is_that_moment() -> None:
    now = datetime(2026, 7, 3, 12, 0, tzinfo=UTC)
    leave = datetime(2026, 7, 5, 20, 0, tzinfo=timezone(timedelta(hours=2)))
    assert leave_moment(leave, now) == datetime(2026, 7, 5, 18, 0, tzinfo=UTC)
    assert leave_moment(None, now) is None


@pytest.mark.parametrize(
    ("one", "other", "first"),
    [
        (None, None, None),
        (time(18, 40), None, time(18, 40)),
        (None, time(18, 10), time(18, 10)),
        (time(18, 40), time(18, 10), time(18, 10)),
        (time(23, 50), time(0, 30), time(23, 50)),
        (time(0, 30), time(23, 50), time(23, 50)),
        (EVENING, time(18, 10), time(18, 10)),
        (EVENING, time(19, 10), EVENING),
        (time(19, 10), EVENING, EVENING),
        (EVENING, datetime(2026, 10, 4, 0, 0, tzinfo=UTC), EVENING),
    ],
)
def test_the_earlier_of_two_moments_counts_also_over_midnight(
    one: Moment | None, other: Moment | None, first: Moment | None
) -> None:
    assert earlier(one, other) == first


@pytest.mark.parametrize(
    ("run", "leaves"),
    [("", "18:10"), ('[run]\nleave_by = "17:30"\n', "17:30"), ('[run]\nleave_by = "19:00"\n', "18:10")],
)
def test_a_ladder_is_over_by_the_last_safe_exit_or_the_time_to_leave_whichever_is_earlier(
    run: str, leaves: str
) -> None:
    assert ladder_of(COAST + '[tide]\nlast_safe_exit = "18:10"\n' + run).leave_by == leaves


def test_the_tide_is_said_as_it_was_typed_and_defers_to_table_sea_and_coastguard() -> None:
    tide = '[tide]\nlow = "12:40"\nhigh = "18:52"\nlast_safe_exit = "17:30"\n'
    (said,) = [one for one in ladder_of(COAST + tide).cautions if one.startswith("Tide")]
    assert said == (
        "Tide, as you typed it: low 12:40, high 18:52, last safe exit 17:30. Nothing is begun that would end after "
        "that. Your table, the sea before you and the coastguard count for more than this."
    )


def test_where_no_last_safe_exit_is_typed_that_is_said() -> None:
    (said,) = [one for one in ladder_of(COAST + '[tide]\nhigh = "18:52"\n').cautions if one.startswith("Tide")]
    assert said == (
        "Tide, as you typed it: high 18:52. No last safe exit is given, so nothing holds the ladder back: write "
        "it under [tide] as last_safe_exit. Your table, the sea before you and the coastguard count for more than this."
    )


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ('high = "dusk"', 'tide.high = "dusk": is not a time of day; write "18:40"'),
        ('low = "25:10"', 'tide.low = "25:10": is not a time of day'),
        ("last_safe_exit = 18.4", "tide.last_safe_exit = 18.4: is not a time of day"),
        ('exit = "18:10"', "tide.exit"),
        ('high = "12:40"\nlow = "12:40"', "high and low water can't be at the same moment"),
    ],
)
def test_what_is_no_time_is_told_with_the_key_and_what_to_write(typed: str, told: str) -> None:
    with pytest.raises(PlanError) as refused:
        plan_of(COAST + f"[tide]\n{typed}\n")
    assert told in str(refused.value)
