"""The time to leave: what is not begun any more, what is left out for others, and when it is spoken of."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from tests.engine.small import NOW, small_run
from tests.plan.plans import BASE, TEN
from tether.clock import to_ns
from tether.engine.deadline import crowded_out, left_s, rung_takes_s, too_late, warn_of_leaving
from tether.engine.run_state import Run

RUNGS = '[rungs]\ntimes = ["1/125"]\n'
#: Half an hour after the run's clock begins.
LEAVE = BASE + RUNGS + "[run]\nleave_by = 2026-10-03T17:00:00Z\n"


def at(run: Run, left: float) -> Run:
    """Let the run's clock come to so long before the time to leave [s]."""
    run.clock.wait_until(to_ns(1800.0 - left))
    return run


def a_run(text: str = LEAVE) -> Any:
    return small_run(text)[0]


def test_what_would_end_after_the_time_to_leave_is_not_begun_and_says_when() -> None:
    run = at(a_run(), 600.0)
    assert left_s(run) == 600.0
    assert too_late(run, 600.0) is None
    ends, leave = ((NOW + timedelta(seconds=s)).astimezone() for s in (1801.0, 1800.0))
    assert too_late(run, 601.0) == f"it would end at {ends:%H:%M:%S}, after leave_by {leave:%H:%M}"


def test_who_has_not_said_when_to_leave_is_never_too_late() -> None:
    run = a_run(BASE + RUNGS)
    assert (left_s(run), too_late(run, 1e6), crowded_out(run, 1e6, 1e6)) == (None, None, None)
    warn_of_leaving(run)


def test_rungs_that_must_be_had_keep_their_time() -> None:
    run = at(a_run(), 1200.0)
    assert crowded_out(run, 600.0, 600.0) is None
    assert crowded_out(run, 601.0, 600.0) == "must-have rungs still need 10 min of the 20 min left"
    assert crowded_out(run, 5000.0, 0.0) is None, "there are none to come"


def test_half_an_hour_and_a_quarter_before_are_spoken_of_once_each() -> None:
    run, telling, _ = small_run(LEAVE.replace("17:00", "17:30"))
    told = []
    for passed_s in (1799.0, 1800.0, 1900.0, 2699.0, 2700.0, 3000.0, 3600.0, 3700.0):
        run.clock.wait_until(to_ns(passed_s))
        warn_of_leaving(run)
        told.append(len(telling.said))
    assert told == [0, 1, 1, 1, 2, 2, 2, 2]
    assert [one.split(" until ")[0] for one in telling.said] == ["30 min", "15 min"]
    assert telling.said[0].endswith("when you want to leave: no frame is begun that would end later.")


def test_the_last_safe_exit_is_warned_of_as_what_it_is_and_nothing_is_begun_that_would_end_after_it() -> None:
    exit_first = LEAVE.replace("17:00", "17:30") + "[tide]\nlast_safe_exit = 2026-10-03T17:00:00Z\n"
    run, telling, _ = small_run(exit_first)
    run.clock.wait_until(to_ns(900.0))
    warn_of_leaving(run)
    leave = (NOW + timedelta(seconds=1800)).astimezone()
    assert telling.said == [f"15 min until {leave:%H:%M}, the last safe exit: no frame is begun that would end later."]
    assert (too_late(run, 901.0) or "").endswith(f"after the last safe exit {leave:%H:%M}")


def test_where_both_were_missed_one_word_is_enough() -> None:
    run, telling, _ = small_run(LEAVE)
    warn_of_leaving(at(run, 800.0))
    warn_of_leaving(at(run, 700.0))
    assert len(telling.said) == 1


def test_a_rung_takes_its_frames_its_tests_and_the_copying_of_each() -> None:
    run = a_run(BASE + '[rungs]\ntimes = ["2m"]\n' + TEN)
    (rung,) = run.ladder.rungs
    fetch_s = run.abilities.fetch_s
    tests_s = sum(one.time_s + fetch_s for one in rung.tests)
    assert rung.tests
    assert rung_takes_s(run, rung, 3) == pytest.approx(3 * (rung.choice.time_s + fetch_s) + tests_s)
