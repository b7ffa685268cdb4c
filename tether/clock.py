"""Three clocks behind one protocol: real, paced and stepped.

*Real* is the machine's monotonic clock. *Paced* is an affine map of it, the same in every process that is given the
same map, so that a rehearsal at 60× runs the real processes with honest countdowns. *Stepped* lives in one process and
jumps from one due moment to the next; it is for tests and for rehearsing as fast as possible.

All times are nanoseconds of the clock at hand (``_ns``), never of the wall; :meth:`Clock.utc` is for labels only.
"""

from __future__ import annotations

import heapq
import itertools
import queue
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Protocol, TypeVar

T = TypeVar("T")

NS = 1_000_000_000
#: Before a precise moment the waiting thread stops sleeping and spins for this long, in real time.
SPIN_NS = 2_000_000
_BOOT = Path("/proc/sys/kernel/random/boot_id")


def to_ns(seconds: float) -> int:
    """Turn seconds into whole nanoseconds, rounded to the nearest."""
    return round(seconds * NS)


def to_s(nanoseconds: int) -> float:
    """Turn nanoseconds into seconds."""
    return nanoseconds / NS


def boot_id() -> str:
    """Return what names this boot of the machine; empty where the system does not say."""
    return _BOOT.read_text().strip() if _BOOT.exists() else ""


class Clock(Protocol):
    """What the code that waits may ask of time."""

    def now_ns(self) -> int:
        """Return this clock's monotonic time [ns]."""

    def utc(self) -> datetime:
        """Return this clock's wall time, aware, in UTC. For labels only: it may step."""

    def utc_of(self, at_ns: int) -> datetime:
        """Return the wall time of a moment of this clock, as the wall clock stands now. For labels only."""

    def wait_until(self, at_ns: int) -> None:
        """Return at or soon after `at_ns`; at once if it is past."""

    def wait_exactly_until(self, at_ns: int) -> None:
        """Return as close after `at_ns` as this machine can, spinning at the end."""

    def take(self, box: queue.SimpleQueue[T], until_ns: int | None) -> T | None:
        """Return the next thing put into `box`, or None once `until_ns` is reached (None: wait without end)."""


@dataclass(frozen=True, kw_only=True)
class AffineClock:
    """The machine's monotonic clock, or that clock run at a fixed pace.

    Parameters
    ----------
    pace
        Seconds of this clock in one real second; 1 is the real clock.
    origin_real_ns, origin_ns
        The real and the paced reading of one moment. Equal (and pace 1) for the real clock.
    origin_utc
        Wall time of that moment; None takes the wall clock as it is (pace 1 only).
    """

    pace: float = 1.0
    origin_real_ns: int = 0
    origin_ns: int = 0
    origin_utc: datetime | None = None

    @classmethod
    def started_now(cls, pace: float, since: datetime | None = None) -> AffineClock:
        """Make a clock of the given pace that agrees with the real one at this moment.

        `since` is a moment that its wall time is not to begin before: it goes on from there where it would.
        """
        now_ns, now = time.monotonic_ns(), datetime.now(UTC)
        begins = max(now, since or now)
        if pace == 1 and begins == now:
            return cls()
        return cls(pace=pace, origin_real_ns=now_ns, origin_ns=now_ns, origin_utc=begins)

    @property
    def tells_the_day(self) -> bool:
        """Whether its wall time is the time of day, and not that of a rehearsal."""
        return self.origin_utc is None

    def now_ns(self) -> int:
        return self.origin_ns + round((time.monotonic_ns() - self.origin_real_ns) * self.pace)

    def utc(self) -> datetime:
        if self.origin_utc is None:
            return datetime.now(UTC)
        return self.utc_of(self.now_ns())

    def utc_of(self, at_ns: int) -> datetime:
        if self.origin_utc is None:
            return datetime.now(UTC) - timedelta(seconds=to_s(self.now_ns() - at_ns))
        return self.origin_utc + timedelta(seconds=to_s(at_ns - self.origin_ns))

    def _real_ns(self, at_ns: int) -> int:
        return self.origin_real_ns + round((at_ns - self.origin_ns) / self.pace)

    def wait_until(self, at_ns: int) -> None:
        left_ns = self._real_ns(at_ns) - time.monotonic_ns()
        if left_ns > 0:
            time.sleep(to_s(left_ns))

    def wait_exactly_until(self, at_ns: int) -> None:
        real_ns = self._real_ns(at_ns)
        left_ns = real_ns - time.monotonic_ns() - SPIN_NS
        if left_ns > 0:
            time.sleep(to_s(left_ns))
        while time.monotonic_ns() < real_ns:
            pass

    def take(self, box: queue.SimpleQueue[T], until_ns: int | None) -> T | None:
        try:
            if until_ns is None:
                return box.get()
            left_ns = self._real_ns(until_ns) - time.monotonic_ns()
            return box.get(timeout=max(to_s(left_ns), 0.0))
        except queue.Empty:
            return None


@dataclass(kw_only=True)
class SteppedClock:
    """A clock for one thread that moves only when something waits, straight to the next due moment."""

    start_utc: datetime = datetime(2026, 10, 3, 16, 30, tzinfo=UTC)
    _now_ns: int = 0
    _due: list[tuple[int, int, Callable[[], None]]] = field(default_factory=list)
    _order: itertools.count[int] = field(default_factory=itertools.count)

    def now_ns(self) -> int:
        return self._now_ns

    def utc(self) -> datetime:
        return self.utc_of(self._now_ns)

    def utc_of(self, at_ns: int) -> datetime:
        return self.start_utc + timedelta(seconds=to_s(at_ns))

    def call_at(self, at_ns: int, do: Callable[[], None]) -> None:
        """Have `do` called when the clock reaches `at_ns` (at the next wait if that is past)."""
        heapq.heappush(self._due, (at_ns, next(self._order), do))

    def _step_to(self, at_ns: int) -> None:
        self._now_ns = max(self._now_ns, at_ns)

    def wait_until(self, at_ns: int) -> None:
        while self._due and self._due[0][0] <= at_ns:
            due_ns, _, do = heapq.heappop(self._due)
            self._step_to(due_ns)
            do()
        self._step_to(at_ns)

    def wait_exactly_until(self, at_ns: int) -> None:
        self.wait_until(at_ns)

    def take(self, box: queue.SimpleQueue[T], until_ns: int | None) -> T | None:
        while box.empty():
            if self._due and (until_ns is None or self._due[0][0] <= until_ns):
                due_ns, _, do = heapq.heappop(self._due)
                self._step_to(due_ns)
                do()
            elif until_ns is None:
                raise RuntimeError("a stepped clock was asked to wait for something that nothing will bring")
            else:
                self._step_to(until_ns)
                return None
        return box.get()
