"""How long frames take, and which moment a time to leave means."""

from __future__ import annotations

from datetime import UTC, datetime, time

import pytest

from tether.plan.takes import leave_moment


@pytest.mark.parametrize(
    ("now", "leave", "expected_hours"),
    [((12, 0), time(18, 40), 6 + 40 / 60), ((23, 30), time(1, 0), 1.5), ((19, 0), time(18, 40), -20 / 60)],
)
def test_leave_by_is_the_nearest_such_time_of_day(now: tuple[int, int], leave: time, expected_hours: float) -> None:
    local = datetime(2026, 7, 3, *now).astimezone()
    moment = leave_moment(leave, local.astimezone(UTC))
    assert moment is not None
    assert (moment - local).total_seconds() / 3600 == pytest.approx(expected_hours)
