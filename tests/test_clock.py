"""The wall time of a moment: one reading, so that two made apart do not add up to a jump of a fast clock."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from tether.clock import NS, AffineClock, SteppedClock

EVENING = datetime(2026, 10, 3, 16, 30, tzinfo=UTC)


def test_a_paced_clock_gives_a_moment_its_wall_time_whenever_it_is_asked() -> None:
    clock = AffineClock(pace=10_000, origin_real_ns=5 * NS, origin_ns=7 * NS, origin_utc=EVENING)
    assert clock.utc_of(7 * NS) == EVENING
    assert clock.utc_of(7 * NS + 90 * NS) == EVENING + timedelta(seconds=90)


def test_the_real_clock_counts_back_from_the_wall_clock_as_it_stands() -> None:
    clock = AffineClock()
    before = datetime.now(UTC)
    told = clock.utc_of(clock.now_ns() - 60 * NS)
    assert timedelta(0) <= told + timedelta(seconds=60) - before < timedelta(seconds=5)


def test_a_stepped_clock_counts_from_its_start() -> None:
    clock = SteppedClock(start_utc=EVENING)
    assert clock.utc_of(30 * NS) == EVENING + timedelta(seconds=30)


def test_a_clock_that_goes_on_from_a_moment_that_is_to_come_begins_there_and_says_that_it_is_not_the_day() -> None:
    later = datetime.now(UTC) + timedelta(hours=5)
    for pace in (1.0, 60.0):
        clock = AffineClock.started_now(pace, later)
        assert clock.utc() >= later
        assert clock.utc() - later < timedelta(minutes=10)
        assert (clock.pace, clock.tells_the_day) == (pace, False)
    before = datetime.now(UTC)
    assert AffineClock.started_now(1.0, before - timedelta(hours=5)) == AffineClock()
    assert AffineClock().tells_the_day
    assert AffineClock.started_now(60.0, before - timedelta(hours=5)).utc() >= before
