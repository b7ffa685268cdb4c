"""Reads a camera's record: what was commanded when, beside what the body itself wrote down."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tether.body.responder.physics import RECORD_NAME

BODY_NAME = "openings.jsonl"


@dataclass(frozen=True, kw_only=True)
class Observed:
    """One exposure as the camera saw it.

    Attributes
    ----------
    frame
        Its number, as in the file's name.
    held
        Whether the shutter was held open.
    by
        "command", or "by hand" for the body's own button.
    opened_ns, closed_ns
        When the commands had arrived; `closed_ns` is None for a timed frame, or where no close came.
    shutter_opened_ns, shutter_closed_ns
        When the shutter opened and closed; None: not yet.
    time, aperture, iso
        The labels that were really in force.
    """

    frame: int
    held: bool
    by: str
    opened_ns: int
    closed_ns: int | None
    shutter_opened_ns: int
    shutter_closed_ns: int | None
    time: str
    aperture: str
    iso: str

    @property
    def held_s(self) -> float | None:
        """Time between the two commands [s]."""
        return None if self.closed_ns is None else (self.closed_ns - self.opened_ns) / 1e9


@dataclass(frozen=True, kw_only=True)
class Operation:
    """One operation that was received: its code and name, its parameters, when it had arrived, how it was answered."""

    code: int
    name: str
    parameters: tuple[int, ...]
    at_ns: int
    response: int


def observed(folder: Path) -> list[Observed]:
    """Return the exposures in a camera's record, in order."""
    lines, truth = _lines(folder / RECORD_NAME), _lines(folder / BODY_NAME)
    closed = {line["frame"]: line["at_ns"] for line in lines if line["what"] == "closed"}
    opens = {line["frame"]: line for line in truth if line["what"] == "opened"}
    closes = {line["frame"]: line["at_ns"] for line in truth if line["what"] == "closed"}
    return [
        Observed(
            frame=line["frame"],
            held=line["held"],
            by=line["by"],
            opened_ns=line["at_ns"],
            closed_ns=closed.get(line["frame"]),
            shutter_opened_ns=opens[line["frame"]]["at_ns"],
            shutter_closed_ns=closes.get(line["frame"]),
            time=opens[line["frame"]]["time"],
            aperture=opens[line["frame"]]["aperture"],
            iso=opens[line["frame"]]["iso"],
        )
        for line in lines
        if line["what"] == "opened"
    ]


def operations(folder: Path) -> list[Operation]:
    """Return the operations in a camera's record, in order."""
    return [
        Operation(
            code=line["code"],
            name=line["name"],
            parameters=tuple(line["parameters"]),
            at_ns=line["at_ns"],
            response=line["response"],
        )
        for line in _lines(folder / RECORD_NAME)
        if line["what"] == "operation"
    ]


def _lines(path: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()] if path.exists() else []
