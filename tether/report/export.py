"""The log as files: CSV with one row a frame, and JSON. Written whole or not at all."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path

from tether.files.safe import safe_write
from tether.journal.records import Applied
from tether.journal.story import FrameStory, Outing
from tether.report import harmless
from tether.report.log import joined_notes, log_json

Cell = str | int | float | bool | None


def export_json(outing: Outing, path: Path) -> None:
    """Write the log as JSON, as `tether.report.log.log_json` gives it, in UTF-8.

    Raises
    ------
    SupplyError, PlanError
        If the file cannot be written.
    """
    text = harmless.json_text(log_json(outing), allow_nan=False, indent=2)
    safe_write(path, f"{text}\n".encode())


def export_csv(outing: Outing, path: Path) -> None:
    """Write the log as CSV (RFC 4180, UTF-8): a heading with units, one row a frame, an empty cell for "not known".

    Raises
    ------
    SupplyError, PlanError
        If the file cannot be written.
    """
    page = io.StringIO()
    writer = csv.writer(page)
    writer.writerow(["outing", "simulated", "title", *(heading for heading, _ in _COLUMNS)])
    for ladder in outing.ladders:
        for frame in ladder.frames:
            told = [_cell(shows(frame)) for _, shows in _COLUMNS]
            writer.writerow([_cell(outing.name), _cell(outing.simulated), _cell(ladder.title), *told])
    safe_write(path, page.getvalue().encode())


def _cell(value: Cell) -> Cell:
    if isinstance(value, str):
        return harmless.cell(value)
    return ("yes" if value else "no") if isinstance(value, bool) else value


def _applied(name: str, of: Callable[[FrameStory], Applied | None]) -> list[tuple[str, Callable[[FrameStory], Cell]]]:
    """Give the columns of one set of settings: exact numbers, and the time as it was labelled."""

    def column(key: str) -> Callable[[FrameStory], Cell]:
        return lambda frame: getattr(of(frame), key, None)

    return [
        (f"{name} time [s]", column("time_s")),
        (f"{name} time label", column("time_label")),
        (f"{name} aperture [f-number]", column("aperture")),
        (f"{name} ISO", column("iso")),
    ]


_COLUMNS: list[tuple[str, Callable[[FrameStory], Cell]]] = [
    ("ladder", lambda frame: frame.ladder),
    ("rung", lambda frame: frame.rung),
    ("frame", lambda frame: frame.frame),
    ("kind", lambda frame: frame.kind),
    ("way", lambda frame: frame.way),
    ("outcome", lambda frame: frame.outcome),
    *_applied("planned", lambda frame: frame.planned),
    *_applied("asked", lambda frame: frame.asked),
    *_applied("read back", lambda frame: frame.read_back),
    *_applied("Exif", lambda frame: frame.exif),
    ("filters", lambda frame: " + ".join(frame.filters)),
    ("filters [stops]", lambda frame: frame.filter_stops),
    ("open asked [s]", lambda frame: frame.open_s.asked),
    ("open by commands [s]", lambda frame: frame.open_s.held),
    ("open by the body's count [s]", lambda frame: frame.open_s.body),
    ("open by Exif [s]", lambda frame: frame.open_s.exif),
    ("open by light [s]", lambda frame: frame.open_s.light),
    ("brighter than planned [stops]", lambda frame: frame.difference_stops),
    ("real-time hold", lambda frame: frame.hold_realtime),
    ("closed by", lambda frame: frame.closed_by),
    ("opened [UTC]", lambda frame: frame.opened_utc),
    ("closed [UTC]", lambda frame: frame.closed_utc),
    ("files", lambda frame: "; ".join(file.name for file in frame.files)),
    ("note", joined_notes),
]
