"""What a process of low priority works out for the page, from an outing; the page itself reckons nothing."""

from __future__ import annotations

import asyncio
import subprocess
from collections.abc import Sequence
from pathlib import Path

from tether.files.state import words_of


async def said_by(process: subprocess.Popen[bytes], within_s: float | None = None) -> tuple[bytes, bytes]:
    """Return what a process has printed and said once it ends; it is ended when nobody waits for it any more.

    Begin it at once, not as a task: one that is called off while it begins a process would leave that behind.

    Raises
    ------
    TimeoutError
        If it takes longer; None: it may take as long as it likes.
    """
    try:
        return await asyncio.wait_for(asyncio.to_thread(process.communicate), within_s)
    finally:
        if process.poll() is None:  # the page was left, the server ends, or it takes too long
            process.kill()
            process.wait()


async def worked_out(command: Sequence[str | Path], what: str) -> bytes | None:
    """Return what a command prints; None where it does not end well. Its own words on that go into the page's log.

    Parameters
    ----------
    command
        The program and its arguments.
    what
        What it does, in words, for the log.
    """
    _, log = words_of("page", what)
    with log:
        process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=log)  # noqa: S603 - our own
    told, _ = await said_by(process)
    return told if process.returncode == 0 else None
