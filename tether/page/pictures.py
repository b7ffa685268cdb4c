"""Histograms read from raw frames, each once by a process of low priority, one at a time; and a live view's picture."""

from __future__ import annotations

import asyncio
import sys
import time
from collections import OrderedDict
from pathlib import Path

from tether.control.registry import live_path
from tether.page.worked_out import worked_out

#: Pictures that are kept.
_KEPT = 16
#: A live picture that is older is not live any more [s].
_LIVE_S = 5.0


class Histograms:
    """The histograms of frames, as JSON."""

    def __init__(self) -> None:
        self._made: OrderedDict[Path, bytes] = OrderedDict()
        self._one_at_a_time = asyncio.Lock()

    async def of(self, outing: Path, name: str) -> bytes | None:
        """Return the histogram of an outing's frame; None where it can't be read."""
        frame = outing / name
        async with self._one_at_a_time:
            if frame not in self._made:
                command = (sys.executable, "-P", "-m", "tether.report.histogram", outing, name)
                made = await worked_out(command, f"a histogram is made of {name}")
                if made is None:
                    return None
                self._made[frame] = made
                if len(self._made) > _KEPT:
                    self._made.popitem(last=False)
            return self._made[frame]


def live_picture() -> bytes | None:
    """Return the picture of a body's live view; None where it shows none, or it is not live any more."""
    try:
        return live_path().read_bytes() if is_live() else None
    except OSError:
        return None


def is_live() -> bool:
    """Return whether there is a picture of a body's live view."""
    try:
        return time.time() - live_path().stat().st_mtime < _LIVE_S
    except OSError:
        return False
