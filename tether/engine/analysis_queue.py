"""What the raw frames say, read beside the run: a process a frame, one after the other, not waited for while open."""

from __future__ import annotations

import signal
import subprocess
import time
from collections import deque
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from pydantic import TypeAdapter

from tether.files.last_words import log_if_any, one_thread, start_beside, where_it_said
from tether.frames.asked import Asked, BaseAsked, FrameAnswer, FrameAsked, PictureAsked

#: How long one frame may take to be read [real s].
LAST_S = 60.0
_ANSWER = TypeAdapter(FrameAnswer)


@dataclass
class Reader:
    """Frames to be read, in order.

    `apart` says whether each is read in a process of its own; else at once, for a clock that is stepped. `against` is
    the file of what frames are read against, once there is one. `words` is where such processes leave their last words.
    """

    apart: bool = False
    against: Path | None = None
    words: Path | None = None
    _waiting: deque[tuple[int, FrameAsked]] = field(default_factory=deque)
    _done: list[tuple[int, FrameAnswer]] = field(default_factory=list)
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

    def at_once(self, asked: BaseAsked | PictureAsked) -> FrameAnswer:
        """Have base frames read, or a picture drawn, and wait for it."""
        if not self.apart:
            return _answered_here(asked)
        process = self._begun(asked)
        try:
            return self._said(process, process.communicate(timeout=LAST_S)[0])
        except subprocess.TimeoutExpired:
            process.kill()
            process.communicate()
            return FrameAnswer(problem=f"The frame could not be read within {LAST_S:.0f} s.")

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

    def done(self) -> list[tuple[int, FrameAnswer]]:
        """Return what was read since the last call, by frame."""
        self._go_on()
        done, self._done = self._done, []
        return done

    def _go_on(self) -> None:
        if self._in_hand is not None:
            frame, process = self._in_hand
            if process.poll() is None:
                if time.monotonic() - self._begun_s < LAST_S:
                    return
                process.kill()
            self._in_hand = None
            self._done.append((frame, self._said(process, process.communicate()[0])))
        if self._waiting:
            frame, asked = self._waiting.popleft()
            self._in_hand, self._begun_s = (frame, self._begun(asked)), time.monotonic()

    def _begun(self, asked: Asked) -> subprocess.Popen[str]:
        """Start a process that answers; what it is asked fits into the pipe."""
        what = "base frames" if isinstance(asked, BaseAsked) else asked.path.name
        with log_if_any(self.words, f"a process reads {what}") as log:
            pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
            process = start_beside("tether.frames.reading", log=log, env=one_thread(), **pipes)
        if process.stdin is not None:
            with suppress(BrokenPipeError):  # it has ended already, which is told by what it answers
                process.stdin.write(asked.model_dump_json())
                process.stdin.close()
            process.stdin = None
        return process

    def _said(self, process: subprocess.Popen[str], text: str) -> FrameAnswer:
        try:
            return _ANSWER.validate_json(text)
        except ValueError:
            why = f"The frame could not be read: the process that reads {_end(process)}.{where_it_said(self.words)}"
            return FrameAnswer(problem=why)


def _answered_here(asked: Asked) -> FrameAnswer:
    from tether.frames.reading import answer  # it loads much that a run with a process for it does not need

    return answer(asked)


def _end(process: subprocess.Popen[str]) -> str:
    """Say how a process ended that gave no answer."""
    code = process.returncode
    if code is not None and code < 0:
        return f"was ended ({signal.strsignal(-code) or f'signal {-code}'})"
    return f"gave no answer (exit code {code})"
