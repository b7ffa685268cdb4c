"""What a process works out for the page: what it prints, nothing where it fails, and it ends with who waits for it."""

from __future__ import annotations

import asyncio
import os
import sys
from pathlib import Path

import pytest

from tether.page.worked_out import worked_out


def test_what_a_process_prints_is_what_it_worked_out() -> None:
    assert asyncio.run(worked_out((sys.executable, "-c", "print('here')"), "a trial")) == b"here\n"


def test_of_one_that_fails_nothing_is_known() -> None:
    assert asyncio.run(worked_out((sys.executable, "-c", "print('half'); raise SystemExit(3)"), "a trial")) is None


def test_one_that_nobody_waits_for_any_more_is_ended(tmp_path: Path) -> None:
    says = tmp_path / "pid"
    script = "import os, pathlib, sys, time; pathlib.Path(sys.argv[1]).write_text(str(os.getpid())); time.sleep(600)"

    async def left() -> int:
        waits = asyncio.ensure_future(worked_out((sys.executable, "-c", script, says), "a trial"))
        while not (says.exists() and says.read_text()):
            await asyncio.sleep(0.01)
        waits.cancel()
        with pytest.raises(asyncio.CancelledError):
            await waits
        return int(says.read_text())

    with pytest.raises(ProcessLookupError):
        os.kill(asyncio.run(left()), 0)


def test_one_that_is_called_off_at_once_is_ended_too() -> None:
    """Called off before it was waited for at all: whatever was begun is not left behind."""

    async def called_off() -> None:
        waits = asyncio.ensure_future(worked_out((sys.executable, "-c", "import time; time.sleep(600)"), "a trial"))
        await asyncio.sleep(0)
        waits.cancel()
        with pytest.raises(asyncio.CancelledError):
            await waits

    children = Path(f"/proc/{os.getpid()}/task/{os.getpid()}/children")
    before = children.read_text()
    asyncio.run(called_off())
    assert children.read_text() == before
