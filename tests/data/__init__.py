"""The tables of check values that lie beside this file; README.md names their sources."""

from __future__ import annotations

import csv
from pathlib import Path


def rows(table: str) -> list[dict[str, str]]:
    """Read a table: one dictionary a row, comment lines left out."""
    text = (Path(__file__).parent / f"{table}.csv").read_text(encoding="utf-8")
    found = list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
    assert found, f"{table}.csv is empty"
    return found
