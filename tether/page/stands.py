"""Whether files of an outing have changed since they were read."""

from __future__ import annotations

from pathlib import Path

from tether.journal.store import JOURNAL_NAME

Stands = tuple[tuple[int, int] | None, ...]
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
