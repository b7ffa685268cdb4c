"""Two plain files beside the journal: the lock that lets in one writer, and the room kept for bad days."""

from __future__ import annotations

import fcntl
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from tether.errors import BusyError

LOCK_NAME = "journal.lock"
RESERVE_NAME = "journal.reserve"
#: Room for some hundreds of records and the settling after them [bytes].
RESERVE_BYTES = 2 * 1024 * 1024
#: A reader holds the lock for moments only; a writer waits this long before it takes it for another writer [s].
_PATIENCE_S = 0.5
#: The same where the process that had it is dead: a child that it was just starting has it until it is started.
_PATIENCE_WITH_DEAD_S = 10.0
_POLL_S = 0.02


def try_lock(file: int | IO[str], how: int) -> bool:
    """Take a lock on an open file if nobody else has it; `how` as for flock(2)."""
    try:
        fcntl.flock(file, how | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _is_dead(holder: str) -> bool:
    """Say whether the process that wrote its number into a lock is no more."""
    try:
        os.kill(int(holder), 0)
    except (ValueError, OverflowError, PermissionError):
        return False
    except ProcessLookupError:
        return True
    return False


class WriterLock:
    """The right to write an outing's journal, held until `release` or the end of the process."""

    def __init__(self, folder: Path) -> None:
        """Take the lock. Raises BusyError, naming the process that has it."""
        self._file = os.open(folder / LOCK_NAME, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        began_s = time.monotonic()
        while not try_lock(self._file, fcntl.LOCK_EX):
            holder = os.pread(self._file, 32, 0).decode(errors="replace").strip() or "unknown"
            if time.monotonic() >= began_s + (_PATIENCE_WITH_DEAD_S if _is_dead(holder) else _PATIENCE_S):
                os.close(self._file)
                raise BusyError(
                    f"The outing {folder} is being written by another run (process {holder}). "
                    "Watch or stop that run, or wait until it is over."
                )
            time.sleep(_POLL_S)
        os.ftruncate(self._file, 0)
        os.pwrite(self._file, f"{os.getpid()}\n".encode(), 0)

    def release(self) -> None:
        """Give the lock back. The file stays: taking it away would let two writers in."""
        os.ftruncate(self._file, 0)
        os.close(self._file)


@contextmanager
def no_writer(folder: Path) -> Iterator[bool]:
    """Tell whether nobody writes in `folder`, and keep writers out meanwhile if so. Changes no file."""
    try:
        file = os.open(folder / LOCK_NAME, os.O_RDONLY | os.O_CLOEXEC)
    except FileNotFoundError:
        yield True
        return
    try:
        yield try_lock(file, fcntl.LOCK_SH)
    finally:
        os.close(file)


class Reserve:
    """Disk room kept so that what happened can still be written when the disk is full."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / RESERVE_NAME

    def keep(self) -> None:
        """Make sure the room is kept. Raises OSError if the disk does not have it."""
        if self._path.exists():
            return
        file = os.open(self._path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        try:
            os.posix_fallocate(file, 0, RESERVE_BYTES)
        except OSError:
            self._path.unlink()
            raise
        finally:
            os.close(file)

    def release(self) -> None:
        """Give the room back to the disk; harmless when it is not kept."""
        self._path.unlink(missing_ok=True)
