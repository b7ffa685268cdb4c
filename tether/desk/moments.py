"""What the desk asks of time, in one place, so that a test can give its own."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from tether.clock import AffineClock


@dataclass(frozen=True, kw_only=True)
class Moments:
    """Four readings.

    Attributes
    ----------
    real_s
        The machine's monotonic clock [s], for how long nothing was heard, for flashing and ringing.
    run_ns
        A run's clock now [ns], to count down by.
    day
        The time of day by a run's clock, with its zone; for labels only.
    wall
        The time of day, with its zone, while nothing runs.
    """

    real_s: Callable[[], float] = time.monotonic
    run_ns: Callable[[AffineClock], int] = AffineClock.now_ns
    day: Callable[[AffineClock], datetime] = lambda clock: clock.utc().astimezone()
    wall: Callable[[], datetime] = lambda: datetime.now().astimezone()
