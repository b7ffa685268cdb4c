"""What the machine's clocks did meanwhile: whether it slept, whether the wall clock was set, and whether to trust it.

Linux has three clocks that matter here (clock_gettime(2)): the monotonic one stands still while the machine sleeps, the
boot-time one runs on, and the wall clock can be set. So sleep is what boot time grew more than monotonic time, and a
step of the wall clock is what that grew more, or less, than boot time. A time service that only slows or quickens the
wall clock does so to all three, and is not seen.

Nothing is ever timed by the wall clock: what is found here goes into the log, and into labels.
"""

from __future__ import annotations

import ctypes
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from tether.clock import to_s
from tether.wording import span

#: The day of this release; set anew with each. No machine that runs it can rightly show an earlier one.
RELEASED = datetime(2026, 11, 1, tzinfo=UTC)
#: The clocks are read one after the other; less than this is not taken for sleep or a step [s].
TOLERANCE_S = 0.1

#: Made by systemd's time service when it has set the clock since boot (systemd-timesyncd.service(8)).
_SYNCHRONISED = Path("/run/systemd/timesync/synchronized")
#: What adjtimex(2) answers while no time service has set the clock.
_TIME_ERROR = 5
#: More than struct timex takes on any machine; all zero, it asks and sets nothing.
_TIMEX_BYTES = 512


@dataclass(frozen=True, kw_only=True)
class ClockReading:
    """One moment by three clocks [ns]."""

    monotonic_ns: int
    boottime_ns: int
    wall_ns: int

    @classmethod
    def now(cls, read: Callable[[int], int] = time.clock_gettime_ns) -> ClockReading:
        """Take the moment; `read` tells the time of a clock by its id [ns]."""
        return cls(
            monotonic_ns=read(time.CLOCK_MONOTONIC),
            boottime_ns=read(time.CLOCK_BOOTTIME),
            wall_ns=read(time.CLOCK_REALTIME),
        )


@dataclass(frozen=True, kw_only=True)
class Passed:
    """What happened to the clocks between two moments.

    `slept_s`: how long the machine slept; 0 if it did not. `wall_stepped_s`: how far the wall clock was set, positive
    forward; 0 if it was not.
    """

    slept_s: float
    wall_stepped_s: float


def between(earlier: ClockReading, later: ClockReading) -> Passed:
    """Return what the clocks did between two moments of one boot, to within `TOLERANCE_S`."""
    boottime_ns = later.boottime_ns - earlier.boottime_ns
    slept_s = to_s(boottime_ns - (later.monotonic_ns - earlier.monotonic_ns))
    stepped_s = to_s(later.wall_ns - earlier.wall_ns - boottime_ns)
    return Passed(
        slept_s=slept_s if slept_s > TOLERANCE_S else 0.0,
        wall_stepped_s=stepped_s if abs(stepped_s) > TOLERANCE_S else 0.0,
    )


def slept_sentence(passed: Passed) -> str | None:
    """Say that the machine slept while a frame was open, and what that means for it; None if it did not."""
    if not passed.slept_s:
        return None
    return (
        f"The machine slept for {_how_long(passed.slept_s)} while this frame was open. It could not be closed"
        " meanwhile: unless the body closed it by itself, it was open longer than planned, up to as much."
    )


def stepped_sentence(passed: Passed) -> str | None:
    """Say that the wall clock was set, and what that touches; None if it was not."""
    if not passed.wall_stepped_s:
        return None
    way = "forward" if passed.wall_stepped_s > 0 else "back"
    by = _how_long(abs(passed.wall_stepped_s))
    return f"The wall clock was set {way} by {by}; labels only, nothing else is touched."


def _how_long(seconds: float) -> str:
    return span(seconds) if seconds >= 1 else f"{seconds:.1f} s"


def kernel_synchronised(ask: Callable[[ctypes.Array[ctypes.c_char]], int] | None = None) -> bool | None:
    """Tell whether the kernel holds its wall clock for set by a time service; None where it does not say.

    `ask` is adjtimex(2) of the C library unless given.
    """
    timex = ctypes.create_string_buffer(_TIMEX_BYTES)
    try:
        answer = (ask or ctypes.CDLL(None).adjtimex)(timex)
    except (OSError, AttributeError):
        return None
    return None if answer < 0 else answer != _TIME_ERROR


@dataclass(frozen=True, kw_only=True)
class WallClock:
    """What is known of the wall clock: the time it shows, and whether a time service has set it (None: not known)."""

    utc: datetime
    synchronised: bool | None

    @classmethod
    def now(cls, mark: Path = _SYNCHRONISED, kernel: Callable[[], bool | None] = kernel_synchronised) -> WallClock:
        """Look at the clock, at the mark that a time service leaves, and else ask the kernel."""
        return cls(utc=datetime.now(UTC), synchronised=True if mark.exists() else kernel())


def clock_trusted(clock: WallClock) -> bool | None:
    """Tell whether the wall clock can be believed: it was set by a time service and is not certainly wrong.

    Returns
    -------
    bool or None
        None where it is not known whether a time service set it.
    """
    return False if clock.utc < RELEASED else clock.synchronised


def clock_sentence(clock: WallClock) -> str:
    """Say whether the wall clock can be believed, and what to do where it cannot."""
    shown = f"{clock.utc:%Y-%m-%d %H:%M} UTC"
    remedy = "Compare it with a watch before planning a start by it; exposures are not timed by it."
    if clock.utc < RELEASED:
        return f"The wall clock is wrong: it shows {shown}, which is before this program was made. Set it. {remedy}"
    if clock.synchronised:
        return f"The wall clock was set by a time service; it shows {shown}."
    if clock.synchronised is None:
        return f"Whether a time service has set the wall clock is not known; it shows {shown}. {remedy}"
    return f"No time service has set the wall clock since the machine started; it shows {shown}. {remedy}"
