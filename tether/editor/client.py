"""A face's side of the draft process: starts it, sends it wishes, passes on its news, begins it anew."""

from __future__ import annotations

import contextlib
import itertools
import subprocess
import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from tether.editor.messages import Doing, Drafted, EditorEvent, EditorRequest, Start, WishAnswer, decode_news, encode
from tether.errors import LostError
from tether.files.last_words import see_end, start_apart, where_it_said
from tether.files.state import words_of

#: How long the process may take to let the camera go once its face has left [s].
LEAVES_WITHIN_S = 10.0


class Drafting:
    """Keeps a draft process.

    Parameters
    ----------
    start
        What it is begun with.
    tell
        Given all its news, in a thread of its own; must return at once.
    """

    def __init__(self, start: Start, tell: Callable[[EditorEvent], None]) -> None:
        self._start = start
        self._tell = tell
        self._numbers = itertools.count(1)
        self._process: subprocess.Popen[bytes] | None = None
        self._told = False
        self._words: Path | None = None
        self._ending: subprocess.Popen[bytes] | None = None

    def open(self) -> None:
        """Start the process, with the text as it was told last; harmless while there is one."""
        if self._process is not None:
            return
        self._words, log = words_of("draft", "a draft process starts")
        with log:
            pipe = subprocess.PIPE  # by it, and not by a signal of the terminal, it is told of the face's end
            process = start_apart("tether.editor.process", log=log, stdin=pipe, stdout=pipe)
        self._process, self._told = process, False
        threading.Thread(target=self._listen, args=(process,), name="draft", daemon=True).start()
        self._send(process, encode(self._start))

    def wish(self, wish: EditorRequest) -> int:
        """Send a wish and return its number; what comes of it is told."""
        self.open()
        number = next(self._numbers)
        if self._process is not None:
            self._send(self._process, encode(wish, number))
        return number

    def close(self) -> None:
        """Have the process let the camera go and end, and do not wait for it; the next wish begins another."""
        process, self._process = self._process, None
        if process is not None:
            self._ending = process
            self._close(process)

    def wait(self) -> None:
        """Wait until a process that was told to end has let the camera go; one that does not is killed."""
        if self._ending is not None:
            see_end(self._ending, LEAVES_WITHIN_S)

    def _send(self, process: subprocess.Popen[bytes], line: bytes) -> None:
        # A process that is gone is noticed where it is listened to.
        if process.stdin is not None:
            with contextlib.suppress(OSError, ValueError):
                process.stdin.write(line)
                process.stdin.flush()

    def _close(self, process: subprocess.Popen[bytes]) -> None:
        if process.stdin is not None:
            with contextlib.suppress(OSError):
                process.stdin.close()

    def _listen(self, process: subprocess.Popen[bytes]) -> None:
        """Pass on what the process says, until it ends; say so where that was not meant."""
        if process.stdout is not None:
            with process.stdout:
                for line in process.stdout:
                    with contextlib.suppress(LostError):
                        self._pass_on(decode_news(line))
        process.wait()
        self._close(process)
        if self._process is not process:
            return
        self._process = None
        self._tell(Doing(what=""))
        if self._told or process.returncode:  # else it has said itself why it does not begin
            sentence = (
                "The process that plans and speaks to the camera has ended unexpectedly. Nothing of the plan is lost;"
            )
            again = "it begins anew with your next command."
            self._tell(WishAnswer(to=0, ok=False, sentence=f"{sentence} {again}{where_it_said(self._words)}"))

    def _pass_on(self, news: EditorEvent) -> None:
        if isinstance(news, Drafted):
            self._told = True
            self._start = replace(self._start, text=None if news.saved else news.text)
        self._tell(news)
