"""What the raw frames say, read beside the run: a process a frame, one after the other, not waited for while open."""

from __future__ import annotations

import json
import subprocess
import sys
from collections import deque
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tether.frames.reading import PROBLEM, read_frame

#: How long the last frames may take to be read at the end of a ladder [real s].
LAST_S = 60.0
_UNREAD = {PROBLEM: "The frame could not be read."}


@dataclass
class Reader:
    """Frames to be read, in order.

    `apart` says whether each is read in a process of its own; else at once, for a clock that is stepped.
    """

    apart: bool = False
    _waiting: deque[tuple[int, Path]] = field(default_factory=deque)
    _done: list[tuple[int, dict[str, Any]]] = field(default_factory=list)
    _in_hand: tuple[int, subprocess.Popen[str]] | None = None

    def read(self, frame: int, path: Path) -> None:
        """Have a frame's file read."""
        if not self.apart:
            self._done.append((frame, read_frame(path)))
            return
        self._waiting.append((frame, path))
        self._go_on()

    def done(self) -> list[tuple[int, dict[str, Any]]]:
        """Return what was read since the last call, by frame."""
        self._go_on()
        done, self._done = self._done, []
        return done

    def last(self) -> list[tuple[int, dict[str, Any]]]:
        """Wait for the frames that are left, and return what was read since the last call."""
        while self._in_hand is not None:
            frame, process = self._in_hand
            try:
                said, _ = process.communicate(timeout=LAST_S)
            except subprocess.TimeoutExpired:
                process.kill()
                said, _ = process.communicate()
            self._take(frame, said)
            self._go_on()
        return self.done()

    def _go_on(self) -> None:
        if self._in_hand is not None:
            frame, process = self._in_hand
            if process.poll() is None:
                return
            said, _ = process.communicate()
            self._take(frame, said)
        if self._waiting:
            frame, path = self._waiting.popleft()
            command = [sys.executable, "-P", "-m", "tether.frames.reading", str(path)]
            self._in_hand = (
                frame,
                subprocess.Popen(
                    command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
                ),
            )

    def _take(self, frame: int, said: str) -> None:
        self._in_hand = None
        try:
            self._done.append((frame, json.loads(said)))
        except ValueError:
            self._done.append((frame, _UNREAD))
