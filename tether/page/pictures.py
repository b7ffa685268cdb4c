"""Histograms of frames, each made once by a process of low priority, one at a time, so that nothing waits for them."""

from __future__ import annotations

import asyncio
import sys
from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path

#: Pictures that are kept.
_KEPT = 16


class Histograms:
    """The histograms of an outing's frames, as SVG."""

    def __init__(self, outing: Path) -> None:
        self._outing = outing
        self._made: OrderedDict[str, bytes] = OrderedDict()
        self._one_at_a_time = asyncio.Lock()

    async def of(self, name: str, still_wanted: Callable[[], bool]) -> bytes | None:
        """Return the histogram of the frame of a name; None where it can't be read, or is not wanted any more."""
        async with self._one_at_a_time:
            if name not in self._made:
                if not still_wanted():
                    return None
                made = await _made(self._outing, name)
                if made is None:
                    return None
                self._made[name] = made
                if len(self._made) > _KEPT:
                    self._made.popitem(last=False)
            return self._made[name]


async def _made(outing: Path, name: str) -> bytes | None:
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        "-P",
        "-m",
        "tether.report.histogram",
        str(outing),
        name,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.DEVNULL,
    )
    svg, _ = await process.communicate()
    return svg if process.returncode == 0 else None
