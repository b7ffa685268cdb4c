"""What the clocks did between two moments, and whether the wall clock can be believed."""

from __future__ import annotations

import ctypes
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tether.checks.host_clocks import (
    RELEASED,
    TOLERANCE_S,
    ClockReading,
    Passed,
    WallClock,
    between,
    clock_sentence,
    clock_trusted,
    kernel_synchronised,
    slept_sentence,
    stepped_sentence,
)
from tether.clock import to_ns

START = ClockReading(monotonic_ns=to_ns(50), boottime_ns=to_ns(80), wall_ns=to_ns(1_790_000_000))
LATER = RELEASED + timedelta(days=3)


def after(awake_s: float, slept_s: float = 0.0, stepped_s: float = 0.0) -> ClockReading:
    """Return the moment so long after START."""
    real_s = awake_s + slept_s
    return ClockReading(
        monotonic_ns=START.monotonic_ns + to_ns(awake_s),
        boottime_ns=START.boottime_ns + to_ns(real_s),
        wall_ns=START.wall_ns + to_ns(real_s + stepped_s),
    )


def test_a_moment_takes_each_clock_by_its_own_name() -> None:
    shows = {time.CLOCK_MONOTONIC: 1, time.CLOCK_BOOTTIME: 2, time.CLOCK_REALTIME: 3}
    assert ClockReading.now(shows.__getitem__) == ClockReading(monotonic_ns=1, boottime_ns=2, wall_ns=3)


def test_this_machine_has_the_three_clocks_in_the_order_that_linux_gives_them() -> None:
    mark = ClockReading.now()
    # CLOCK_BOOTTIME is CLOCK_MONOTONIC and the time asleep: never less (clock_gettime(2)).
    assert mark.boottime_ns - mark.monotonic_ns > -to_ns(TOLERANCE_S)
    assert mark.wall_ns > to_ns(datetime(2020, 1, 1, tzinfo=UTC).timestamp())


@given(
    awake_s=st.floats(0, 1e5),
    slept_s=st.floats(TOLERANCE_S + 0.01, 1e6),
    stepped_s=st.floats(TOLERANCE_S + 0.01, 1e9) | st.floats(-1e9, -TOLERANCE_S - 0.01),
)
def test_sleep_and_a_step_are_told_apart_when_both_happened(awake_s: float, slept_s: float, stepped_s: float) -> None:
    passed = between(START, after(awake_s, slept_s, stepped_s))
    assert passed.slept_s == pytest.approx(slept_s, abs=1e-6)
    assert passed.wall_stepped_s == pytest.approx(stepped_s, abs=1e-6)


@given(awake_s=st.floats(0, 1e5), off_s=st.floats(-0.09, 0.09))
def test_what_lies_between_two_readings_of_the_clocks_is_neither(awake_s: float, off_s: float) -> None:
    later = after(awake_s, slept_s=off_s, stepped_s=off_s)
    assert between(START, later) == Passed(slept_s=0.0, wall_stepped_s=0.0)


def test_nothing_is_said_where_nothing_happened() -> None:
    passed = between(START, after(600))
    assert slept_sentence(passed) is None
    assert stepped_sentence(passed) is None


def test_sleep_says_what_it_means_for_an_open_frame() -> None:
    passed = between(START, after(60, slept_s=240))
    sentence = slept_sentence(passed)
    assert sentence is not None
    assert sentence.startswith("The machine slept for 4 min while this frame was open.")
    assert "longer than planned" in sentence


@pytest.mark.parametrize(
    ("stepped_s", "said"),
    [(7200, "forward by 2 h 00 min"), (-7200, "back by 2 h 00 min"), (40, "forward by 40 s"), (-0.4, "back by 0.4 s")],
)
def test_a_step_says_which_way_and_that_only_labels_change(stepped_s: float, said: str) -> None:
    sentence = stepped_sentence(between(START, after(60, stepped_s=stepped_s)))
    assert sentence == f"The wall clock was set {said}; labels only, nothing else is touched."


# The answers of adjtimex(2): 0 to 4 are states of a set clock (leap seconds), 5 is TIME_ERROR, -1 a failure.
@pytest.mark.parametrize(("answer", "synchronised"), [(0, True), (1, True), (4, True), (5, False), (-1, None)])
def test_the_kernel_says_whether_its_clock_was_set(answer: int, synchronised: bool | None) -> None:
    asked: list[bytes] = []

    def ask(timex: ctypes.Array[ctypes.c_char]) -> int:
        asked.append(timex.raw)
        return answer

    assert kernel_synchronised(ask) is synchronised
    assert not any(asked[0]), "anything but zeroes would ask the kernel to set its clock"


def test_this_kernel_answers_without_its_clock_being_touched() -> None:
    before = ClockReading.now()
    assert kernel_synchronised() in (True, False, None)
    assert between(before, ClockReading.now()).wall_stepped_s == 0


def test_the_mark_of_a_time_service_is_believed_before_the_kernel(tmp_path: Path) -> None:
    mark = tmp_path / "synchronized"
    assert WallClock.now(mark, kernel=lambda: False).synchronised is False
    assert WallClock.now(mark, kernel=lambda: None).synchronised is None
    mark.touch()
    assert WallClock.now(mark, kernel=lambda: False).synchronised is True


@pytest.mark.parametrize("synchronised", [True, False, None])
def test_a_clock_after_the_release_is_trusted_as_far_as_it_was_set(synchronised: bool | None) -> None:
    assert clock_trusted(WallClock(utc=LATER, synchronised=synchronised)) is synchronised


@pytest.mark.parametrize("synchronised", [True, False, None])
def test_a_clock_before_the_release_is_wrong_whatever_set_it(synchronised: bool | None) -> None:
    clock = WallClock(utc=RELEASED - timedelta(seconds=1), synchronised=synchronised)
    assert clock_trusted(clock) is False
    assert clock_sentence(clock).startswith("The wall clock is wrong: it shows ")


def test_each_case_has_its_own_sentence_with_the_time_shown() -> None:
    sentences = {clock_sentence(WallClock(utc=LATER, synchronised=one)) for one in (True, False, None)}
    assert len(sentences) == 3
    assert all(f"{LATER:%Y-%m-%d %H:%M} UTC" in one for one in sentences)
