"""The closing-only camera process: shuts a shutter that an earlier camera process left open, and ends.

Usage: ``python -m tether.body.closing FOLDER``, started by the guard when a run process is gone and the stamps say that
a shutter may be open. What the earlier process was started with is kept beside its stamps. It waits until no camera
process is at the folder any more: one that lives closes by itself, one that hangs is ended. It loads no more than the
body needs.
"""

from __future__ import annotations

import faulthandler
import json
import signal
import sys
import time
from pathlib import Path
from typing import Any

from tether.body import stamps
from tether.body.open import BodyChoice, load_body, open_body
from tether.body.process import LOCK_NAME, LOOK_S, STAMPS_NAME, START_NAME, alone, busy_for_s, end_left
from tether.body.wire import unpack
from tether.clock import AffineClock, to_ns
from tether.errors import TetherError
from tether.files.last_words import say_last

#: How often a camera that can't be reached is tried, and the pause between [real s].
MOST_TRIES = 10
AGAIN_S = 0.5


class _Patience:
    """Waiting that a signal cuts short."""

    def __init__(self, clock: AffineClock) -> None:
        self._clock = clock
        self._over = False

    def end(self) -> None:
        self._over = True

    def wait(self, until_ns: int) -> None:
        while not self._over and (now_ns := self._clock.now_ns()) < until_ns:
            self._clock.wait_until(min(until_ns, now_ns + to_ns(LOOK_S * self._clock.pace)))


def main(folder: Path) -> int:
    """Close what was left open at a folder; the exit code is 0 if nothing is open there any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    start: dict[str, Any] = json.loads((folder / START_NAME).read_bytes())
    choice, clock = unpack(start["choice"]), unpack(start["clock"])
    patience = _Patience(clock)
    load_body(choice)
    with alone(folder / LOCK_NAME, busy_for_s(stamps.read(folder / STAMPS_NAME), clock)):
        signal.signal(signal.SIGTERM, lambda *_: patience.end())  # until here it ends it: nothing is ours to close
        for _ in range(MOST_TRIES):
            try:
                _close(choice, clock, folder / STAMPS_NAME, patience)
            except TetherError as error:
                _say(f"A shutter that may be open could not be closed: {error}")
                time.sleep(AGAIN_S)
            else:
                return 0
    return 1


def _say(text: str, kept: str = "", /) -> None:
    say_last(f"{kept or text}\n")


def _close(choice: BodyChoice, clock: AffineClock, path: Path, patience: _Patience) -> None:
    """Close what is open, unless the camera process before has done so meanwhile. Raises TetherError."""
    left = stamps.read(path)
    if left is None or left.shut or left.way != "held":
        return
    body = open_body(choice, clock, _say)
    try:
        end_left(body, clock, path, left, None, patience.wait)
    finally:
        body.leave()


if __name__ == "__main__":
    faulthandler.enable()
    sys.exit(main(Path(sys.argv[1])))
