"""What a process of low priority works out for the page, from an outing; the page itself reckons nothing."""

from __future__ import annotations

import asyncio
import subprocess
from collections.abc import Sequence
from pathlib import Path

from tether.files.state import words_of


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
        # At once, not as a task: one that is called off while it begins a process would leave that behind.
        process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=log)  # noqa: S603 - our own
    try:
        told, _ = await asyncio.to_thread(process.communicate)
    finally:
        if process.poll() is None:  # nobody waits for it any more: the page was left, or the server ends
            process.kill()
            process.wait()
    return told if process.returncode == 0 else None
