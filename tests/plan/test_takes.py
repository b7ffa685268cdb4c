"""How long frames take, and which moment a time to leave means."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta, timezone

import pytest

from tests.plan.plans import BASE, abilities_of, plan_of
from tether.plan.takes import body_dark_s, frame_takes_s, leave_moment


@pytest.mark.parametrize(
    ("now", "leave", "expected_hours"),
    [((12, 0), time(18, 40), 6 + 40 / 60), ((23, 30), time(1, 0), 1.5), ((19, 0), time(18, 40), -20 / 60)],
)
def test_leave_by_is_the_nearest_such_time_of_day(now: tuple[int, int], leave: time, expected_hours: float) -> None:
    local = datetime(2026, 7, 3, *now).astimezone()
    moment = leave_moment(leave, local.astimezone(UTC))
    assert moment is not None
    assert (moment - local).total_seconds() / 3600 == pytest.approx(expected_hours)


ANY = BASE + '[rungs]\ntimes = ["1/125"]\n'


@pytest.mark.parametrize(
    ("dark_frames", "time_s", "dark_s"),
    [("by the body", 0.9, 0.0), ("by the body", 1.0, 1.0), ("by the body", 30.0, 30.0), ("at the end", 30.0, 0.0)],
)
def test_the_bodys_own_dark_frame_takes_as_long_again_from_a_second_on(
    dark_frames: str, time_s: float, dark_s: float
) -> None:
    plan = plan_of(ANY + f'[run]\ndark_frames = "{dark_frames}"\n')
    assert body_dark_s(plan, time_s) == dark_s
    abilities = replace(abilities_of(plan), fetch_s=2.0)
    assert frame_takes_s(plan, abilities, time_s) == time_s + dark_s + 2.0
    assert frame_takes_s(plan, replace(abilities, fetch_s=None), time_s) == time_s + dark_s


def test_a_date_and_time_to_leave_is_that_moment() -> None:
    now = datetime(2026, 7, 3, 12, 0, tzinfo=UTC)
    leave = datetime(2026, 7, 5, 20, 0, tzinfo=timezone(timedelta(hours=2)))
    assert leave_moment(leave, now) == datetime(2026, 7, 5, 18, 0, tzinfo=UTC)
    assert leave_moment(None, now) is None
