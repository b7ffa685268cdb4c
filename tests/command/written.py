"""Outings that are only read, for the tests of commands."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from tests.journal.outings import weir, write_outing
from tether.journal.records import Record


def written(folder: Path, records: Iterable[Record] | None = None) -> Path:
    """Write an outing, an evening at a weir if not told, and return its folder."""
    write_outing(folder, weir() if records is None else records)
    return folder
