"""The observer's record: what was commanded when, by the moment at which the command had arrived here.

A line is written once its reply was sent, so that the record delays nothing. Moments are of the monotonic clock. When
the shutter moved and what was really in force stands in the body's own record beside it (`openings.jsonl`).
"""

from __future__ import annotations

import json
import threading
from pathlib import Path
from typing import Any

from tether.files.errors import disk_sentences

NAME = "observer.jsonl"


class Recorder:
    """Writes the record; lines wait until :meth:`write`. Any thread may use it."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / NAME
        self._lines: list[str] = []
        self._lock = threading.Lock()

    def add(self, what: str, **facts: Any) -> None:
        """Note a line."""
        with self._lock:
            self._lines.append(json.dumps({"what": what, **facts}) + "\n")

    def write(self) -> None:
        """Write the lines that wait."""
        with self._lock:
            if self._lines:
                with disk_sentences(self._path), self._path.open("a", encoding="utf-8") as file:
                    file.write("".join(self._lines))
                self._lines.clear()
