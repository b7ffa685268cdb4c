"""When a ladder ends that is begun now, and what of it would be too late."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from tests.desk.rig import planned
from tether.journal.planned import PlannedLadder
from tether.report.ending import ending, too_late

NOON = datetime(2026, 10, 3, 12, 0, tzinfo=UTC)


def with_leave(leave_by: str) -> PlannedLadder:
    return replace(planned(), leave_by=leave_by, forecast_s=600.0)


@pytest.mark.parametrize(
    ("leave_by", "says"),
    [
        ("12:30", "20 min before you leave at 12:30"),
        ("12:05", "5 min after you leave at 12:05"),
        ("2026-10-03T13:10:00", "60 min before you leave at 13:10"),
        ("2026-10-05T12:10:00", "48 h 00 min before you leave at 12:10 on 2026-10-05"),
    ],
)
def test_the_end_is_held_against_the_time_to_leave_by(leave_by: str, says: str) -> None:
    told = ending(with_leave(leave_by), NOON)
    assert "ends at 12:10" in told
    assert says in told
    assert told.startswith("!") == ("after" in says)


def test_a_time_of_day_is_the_one_nearest_to_now_as_a_run_takes_it() -> None:
    evening = NOON.replace(hour=23, minute=30)
    assert "20 min before you leave at 00:00" in ending(with_leave("00:00"), evening)
    night = NOON.replace(hour=0, minute=10)
    assert "30 min after you leave at 23:50" in ending(with_leave("23:50"), night)


def test_rungs_that_would_end_too_late_are_counted_as_a_run_leaves_them_out() -> None:
    ladder = planned()
    of_base_s = ladder.forecast.base_s / 3
    assert (ladder.base_frames.before, ladder.base_frames.after) == (2, 1)
    # After the last rung: filters off (half a minute), one more base frame, and no dark ones.
    everything_s = ladder.forecast_s - 30.0 - of_base_s - ladder.forecast.fetching_s / 23
    assert too_late(ladder, everything_s + 0.1) == 0
    assert too_late(ladder, everything_s - 0.1) == 1
    assert too_late(ladder, 0) == len(ladder.rungs)
    last, *_ = shorter = sorted(ladder.rungs, key=lambda rung: -rung.time_s)
    assert last.proof is not None
    assert last.rung == len(shorter), "the longest comes last, so that without it all others fit"
    without_last_s = everything_s - last.time_s - last.proof.time_s
    assert too_late(ladder, without_last_s) == 1
    assert "1 rung would end too late and is left out" in ending(with_leave("12:05"), NOON)


def test_a_rehearsal_that_is_faster_ends_sooner_and_is_not_held_against_a_time_of_day() -> None:
    ladder = replace(planned(), forecast_s=600.0, leave_by="12:05")
    assert (
        ending(ladder, NOON, 60.0)
        == "14 rungs, 10 min; rehearsed now, 60 times as fast, it ends at 12:00 at the earliest."
    )
