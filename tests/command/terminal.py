"""Run the command line as a person does: in a terminal of its own, with keys."""

from __future__ import annotations

import contextlib
import fcntl
import os
import pty
import re
import select
import signal
import subprocess
import sys
import termios
import threading
import time
from pathlib import Path
from typing import Self

#: Real seconds after which a test gives up waiting for words on the screen.
PATIENCE_S = 60.0
_CONTROL = re.compile(rb"\x1b\[[0-9;?]*[A-Za-z]|\r|\x07")


def _control() -> None:
    """Make the terminal the command's own, so that its closing is felt as a hang-up."""
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


class Terminal:
    """A command in a pseudo-terminal 100 columns wide."""

    def __init__(self, folder: Path, *words: str) -> None:
        ours, theirs = pty.openpty()
        env = {**os.environ, "COLUMNS": "100", "LINES": "40", "TERM": "xterm", "LC_ALL": "C.UTF-8"}
        self._ours = ours
        self.seen = ""
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tether.command", *words],
            cwd=folder,
            env=env,
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            start_new_session=True,
            preexec_fn=_control,
        )
        os.close(theirs)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
        if self._ours >= 0:
            os.close(self._ours)

    def hang_up(self) -> None:
        """Close the terminal under the command, as a dropped connection does, and wait until it has ended."""
        os.close(self._ours)
        self._ours = -1
        self.process.wait(timeout=PATIENCE_S)

    def wait_for(self, words: str) -> None:
        """Read the screen until these words have come since the last wait; fails if they do not."""
        until = time.monotonic() + PATIENCE_S
        start = len(self.seen)
        while words not in self.seen[start:]:
            if time.monotonic() > until or not self._read(0.2):
                raise AssertionError(f'"{words}" did not come; seen since: {self.seen[start:]}')

    def read_on(self) -> None:
        """Read the screen from now on, whatever comes, so that the command is never held up by it."""

        def read() -> None:
            with contextlib.suppress(OSError):
                while os.read(self._ours, 65536):
                    pass

        threading.Thread(target=read, daemon=True).start()

    def press(self, keys: str) -> None:
        """Type keys."""
        os.write(self._ours, keys.encode())

    def end(self) -> int:
        """Read until the command ends and return its exit code."""
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until and self._read(0.2):
            pass
        return self.process.wait(timeout=PATIENCE_S)

    def _read(self, wait_s: float) -> bool:
        """Take in what is on the screen; False once the command has closed it."""
        if not select.select([self._ours], [], [], wait_s)[0]:
            return True
        try:
            data = os.read(self._ours, 65536)
        except OSError:
            return False
        self.seen += _CONTROL.sub(b"", data).decode(errors="replace")
        return bool(data)
