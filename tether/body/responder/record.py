"""The observer's record: what was commanded when, by the moment at which the command had arrived here.

A line is written once its reply was sent, so that the record delays nothing. Moments are of the monotonic clock.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tether.files.errors import disk_sentences

NAME = "observer.jsonl"


class Recorder:
    """Writes the record; lines wait until :meth:`write`."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / NAME
        self._lines: list[str] = []

    def add(self, what: str, **facts: Any) -> None:
        """Note a line."""
        self._lines.append(json.dumps({"what": what, **facts}))

    def write(self) -> None:
        """Write the lines that wait."""
        if self._lines:
            lines, self._lines = self._lines, []
            with disk_sentences(self._path), self._path.open("a", encoding="utf-8") as file:
                file.write("".join(f"{line}\n" for line in lines))


@dataclass(frozen=True, kw_only=True)
class Observed:
    """One exposure as the camera saw it.

    `opened_ns` and `closed_ns` are when the commands had arrived (`closed_ns` None for a timed frame, or where no close
    came); the labels are those in force at its opening; `by` is "command", or "by hand" for the body's own button.
    """

    frame: int
    held: bool
    opened_ns: int
    closed_ns: int | None
    time: str
    aperture: str
    iso: str
    by: str

    @property
    def held_s(self) -> float | None:
        """Time between the two commands [s]."""
        return None if self.closed_ns is None else (self.closed_ns - self.opened_ns) / 1e9


def read_record(folder: Path) -> list[dict[str, Any]]:
    """Return every line of a camera's record."""
    path = folder / NAME
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()] if path.exists() else []


def observed(folder: Path) -> list[Observed]:
    """Return the exposures in a camera's record, in order."""
    lines = read_record(folder)
    closed = {line["frame"]: line["at_ns"] for line in lines if line["what"] == "closed"}
    return [
        Observed(
            frame=line["frame"],
            held=line["held"],
            opened_ns=line["at_ns"],
            closed_ns=closed.get(line["frame"]),
            time=line["time"],
            aperture=line["aperture"],
            iso=line["iso"],
            by=line["by"],
        )
        for line in lines
        if line["what"] == "opened"
    ]
