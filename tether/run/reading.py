"""What the raw frames say, read beside the run: a process a frame, one after the other, not waited for while open."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections import deque
from dataclasses import dataclass, field
from pathlib import Path

from pydantic_core import from_json

from tether.frames.asked import PROBLEM, BaseAsked, FrameAsked, Readings

#: How long one frame may take to be read [real s].
LAST_S = 60.0
_UNREAD = {PROBLEM: "The frame could not be read."}


@dataclass
class Reader:
    """Frames to be read, in order.

    `apart` says whether each is read in a process of its own; else at once, for a clock that is stepped. `against` is
    the file of what frames are read against, once there is one.
    """

    apart: bool = False
    against: Path | None = None
    _waiting: deque[tuple[int, FrameAsked]] = field(default_factory=deque)
    _done: list[tuple[int, Readings]] = field(default_factory=list)
    _in_hand: tuple[int, subprocess.Popen[str]] | None = None
    _begun_s: float = 0.0

    def read(self, frame: int, path: Path, aperture: float | None = None, time_s: float | None = None) -> None:
        """Have a frame's file read."""
        asked = FrameAsked(path=path, against=self.against, aperture=aperture, time_s=time_s)
        if not self.apart:
            self._done.append((frame, _answered_here(asked)))
            return
        self._waiting.append((frame, asked))
        self._go_on()

    def read_base(self, asked: BaseAsked) -> Readings:
        """Have the base frames read, and wait for it."""
        if not self.apart:
            return _answered_here(asked)
        return _said_in_time(_begun(asked))

    def owes(self) -> bool:
        """Say whether a frame is still to be read, having gone on with them."""
        self._go_on()
        return self._in_hand is not None

    def left(self) -> int:
        """Return how many frames are still to be read."""
        return len(self._waiting) + (self._in_hand is not None)

    def give_up(self) -> None:
        """Leave the frames unread that are still to be read."""
        self._waiting.clear()
        if self._in_hand is not None:
            _, process = self._in_hand
            self._in_hand = None
            process.kill()
            process.communicate()

    def done(self) -> list[tuple[int, Readings]]:
        """Return what was read since the last call, by frame."""
        self._go_on()
        done, self._done = self._done, []
        return done

    def last(self) -> list[tuple[int, Readings]]:
        """Wait for the frames that are left, and return what was read since the last call."""
        while self._in_hand is not None:
            frame, process = self._in_hand
            self._in_hand = None
            self._done.append((frame, _said_in_time(process)))
            self._go_on()
        return self.done()

    def _go_on(self) -> None:
        if self._in_hand is not None:
            frame, process = self._in_hand
            if process.poll() is None:
                if time.monotonic() - self._begun_s < LAST_S:
                    return
                process.kill()
            self._in_hand = None
            self._done.append((frame, _said(process.communicate()[0])))
        if self._waiting:
            frame, asked = self._waiting.popleft()
            self._in_hand, self._begun_s = (frame, _begun(asked)), time.monotonic()


def _answered_here(asked: FrameAsked | BaseAsked) -> Readings:
    from tether.frames.reading import answer  # it loads much that a run with a process for it does not need

    return answer(asked)


def _begun(asked: FrameAsked | BaseAsked) -> subprocess.Popen[str]:
    """Start a process that answers; what it is asked fits into the pipe."""
    process = subprocess.Popen(
        [sys.executable, "-P", "-m", "tether.frames.reading"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},  # more threads only get in each other's way, and in ours
    )
    if process.stdin is not None:
        process.stdin.write(asked.model_dump_json())
        process.stdin.close()
        process.stdin = None
    return process


def _said_in_time(process: subprocess.Popen[str]) -> Readings:
    try:
        said, _ = process.communicate(timeout=LAST_S)
    except subprocess.TimeoutExpired:
        process.kill()
        said, _ = process.communicate()
    return _said(said)


def _said(text: str) -> Readings:
    try:
        readings: Readings = from_json(text)
    except ValueError:
        return _UNREAD
    return readings
