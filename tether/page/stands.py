"""Whether files of an outing have changed since they were read, and what is made anew then."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Generic, TypeVar

from tether.journal.store import JOURNAL_NAME

Stands = tuple[tuple[int, int] | None, ...]
T = TypeVar("T")
JOURNAL_FILES = (JOURNAL_NAME, f"{JOURNAL_NAME}-wal")


def stands_of(folder: Path, *names: str) -> Stands:
    """Return what tells that files have changed: when each was written, and its size; None where it is not there."""
    return tuple(_stands(folder / name) for name in names)


def _stands(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size


class OfOuting(Generic[T]):
    """What is made of an outing's files: made anew where they have changed, once at a time.

    Parameters
    ----------
    make
        Makes it of the outing.
    names
        The files that it is made of.
    """

    def __init__(self, make: Callable[[Path], Awaitable[T]], *names: str) -> None:
        self._make = make
        self._names = names
        self._known: tuple[Path, Stands, T] | None = None
        self._one_at_a_time = asyncio.Lock()

    async def now(self, outing: Path) -> T:
        """Return it as the files are now."""
        async with self._one_at_a_time:
            stands = stands_of(outing, *self._names)
            if self._known is None or self._known[:2] != (outing, stands):
                self._known = outing, stands, await self._make(outing)
            return self._known[2]
