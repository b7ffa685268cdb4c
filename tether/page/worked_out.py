"""What a process of low priority works out for the page, from an outing; the page itself reckons nothing."""

from __future__ import annotations

import asyncio
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
        process = await asyncio.create_subprocess_exec(*command, stdout=asyncio.subprocess.PIPE, stderr=log)
    try:
        told, _ = await process.communicate()
    finally:
        if process.returncode is None:  # nobody waits for it any more: the page was left, or the server ends
            process.kill()
            await process.communicate()
    return told if process.returncode == 0 else None
