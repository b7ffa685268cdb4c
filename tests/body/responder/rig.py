"""Cameras on the wire for tests: in a thread of this process, where no library is asked, or in one of their own."""

from __future__ import annotations

import dataclasses
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.body.choices import choice
from tether.body.dialects import Dialect
from tether.body.responder.physics import Physics
from tether.body.responder.server import Responder
from tether.body.responder.start import AS_IT_SHOULD, WireHow, WireStart

#: Times up to this are the body's own, so that holds are short [s].
LONGEST_S = 0.25


def started_with(
    folder: Path, dialect: Dialect, how: WireHow = AS_IT_SHOULD, longest_s: float = LONGEST_S, **truth: Any
) -> WireStart:
    """Return what a camera is started with: small frames, quick, changed as told."""
    body = choice(folder, **truth)
    times = tuple(mark for mark in body.abilities.times if mark.exact <= longest_s)
    abilities = dataclasses.replace(body.abilities, times=times, can_hold=dialect != "plain")
    return WireStart(dialect=dialect, choice=dataclasses.replace(body, abilities=abilities), how=how)


def soon(true: Callable[[], object], within_s: float = 30.0) -> bool:
    """Wait until something is true; False where it was not in time."""
    until_s = time.monotonic() + within_s
    while time.monotonic() < until_s:
        if true():
            return True
        time.sleep(0.005)
    return False


@dataclass(frozen=True)
class Served:
    """A camera in a thread: its port, its folder, and what is behind it."""

    port: int
    folder: Path
    physics: Physics


@contextmanager
def served(folder: Path, dialect: Dialect, how: WireHow = AS_IT_SHOULD, **truth: Any) -> Iterator[Served]:
    """Have a camera in a thread for the block."""
    physics = Physics(started_with(folder, dialect, how, **truth))
    server = Responder(physics, dialect)
    thread = threading.Thread(target=server.serve)
    thread.start()
    try:
        yield Served(server.port, folder, physics)
    finally:
        server.close()
        thread.join()
        physics.record.write()
