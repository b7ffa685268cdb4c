"""What a thread that waits for a moment asks of the operating system, so that it is woken in time. Linux only.

None of it is needed for a hold to work, and all of it may be refused. Measured with twice as many busy processes as
cores (`make bench`): real-time scheduling wakes within microseconds; without it, what matters is to be a process that
runs briefly and often.
"""

from __future__ import annotations

import contextlib
import ctypes
import gc
import os
import struct
from collections.abc import Iterator
from pathlib import Path

_REALTIME_PRIORITY = 10
#: How late the kernel may fire a timer, to save power: 50 µs unless asked otherwise (prctl(2), PR_SET_TIMERSLACK).
_TIMER_SLACK_NS = 1
_TIMER_SLACK = Path("/proc/self/timerslack_ns")
#: How long a turn on the processor is asked for. From Linux 6.12 on a thread that asks for short turns is let in before
#: those that take long ones (sched_setattr(2), `sched_runtime`, 0.1 ms at the least); earlier kernels take no notice.
_TURN_NS = 100_000
#: The number of the system call sched_setattr, which few C libraries offer (Linux, `unistd.h` of each machine).
_SCHED_SETATTR = {"x86_64": 314, "aarch64": 274}


def ask_for_short_turns() -> None:
    """Ask that this thread be woken in time and let in quickly, as any program may; without effect where refused."""
    with contextlib.suppress(OSError):
        _TIMER_SLACK.write_text(str(_TIMER_SLACK_NS))
    if number := _SCHED_SETATTR.get(os.uname().machine):
        nice = os.getpriority(os.PRIO_PROCESS, 0)
        # struct sched_attr: size, policy, flags, nice, priority, runtime, deadline, period
        wanted = struct.pack("=IIQiIQQQ", 48, os.SCHED_OTHER, 0, nice, 0, _TURN_NS, 0, 0)
        ctypes.CDLL(None).syscall(number, 0, wanted, 0)


@contextlib.contextmanager
def undisturbed(realtime: bool) -> Iterator[bool]:
    """Keep the garbage collector, and where the system allows other programs, from delaying this thread meanwhile.

    Yields whether real-time scheduling is in force: never where `realtime` is false.
    """
    collecting = gc.isenabled()
    gc.disable()
    policy, priority = os.sched_getscheduler(0), os.sched_getparam(0)
    granted = realtime and _ask_realtime()
    try:
        yield granted
    finally:
        if granted:
            os.sched_setscheduler(0, policy, priority)
        if collecting:
            gc.enable()


def _ask_realtime() -> bool:
    try:
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(_REALTIME_PRIORITY))
    except OSError:
        return False
    return True
