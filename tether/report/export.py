"""The log as files: CSV with one row a frame, and JSON."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from math import isfinite
from types import NoneType
from typing import Any, get_args, get_origin, get_type_hints

from tether.journal.readings import FrameReadings
from tether.journal.records import Applied
from tether.journal.story import FrameStory, Outing
from tether.report import harmless
from tether.report.log import joined_notes, log_json

Cell = str | int | float | bool | None


def json_bytes(outing: Outing) -> bytes:
    """Return the log as JSON, as `tether.report.log.log_json` gives it, in UTF-8."""
    text = harmless.json_text(log_json(outing), allow_nan=False, indent=2)
    return f"{text}\n".encode()


def csv_bytes(outing: Outing) -> bytes:
    """Return the log as CSV (RFC 4180, UTF-8): a heading with units, one row a frame, an empty cell for "not known"."""
    page = io.StringIO()
    writer = csv.writer(page)
    writer.writerow(["outing", "simulated", "title", *(heading for heading, _ in _COLUMNS)])
    for ladder in outing.ladders:
        for frame in ladder.frames:
            told = [_cell(shows(frame)) for _, shows in _COLUMNS]
            writer.writerow([_cell(outing.name), _cell(outing.simulated), _cell(ladder.title), *told])
    return page.getvalue().encode()


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


#: Units as the last part of a field's name has them.
_UNITS = {"stops": "[stops]", "px": "[px]", "px2": "[px²]", "deg": "[°]"}
_CHANNELS = ("R", "G", "B")


def _readings(view: type, under: tuple[str, ...] = ()) -> Iterator[tuple[str, Callable[[FrameStory], Cell]]]:
    """Give a column for every figure of a view of readings, and of the views in it."""
    hints = get_type_hints(view)
    for field in fields(view):
        kind, path = hints[field.name], (*under, field.name)
        if get_origin(kind) is dict:
            for channel in _CHANNELS:
                yield from _figures(get_args(kind)[1], (*path, channel))
        else:
            yield from _figures(next((one for one in get_args(kind) if one is not NoneType), kind), path)


def _figures(kind: type, path: tuple[str, ...]) -> Iterator[tuple[str, Callable[[FrameStory], Cell]]]:
    if is_dataclass(kind):
        yield from _readings(kind, path)
    else:
        yield _heading(path), lambda frame: _reading(frame, path)


def _heading(path: tuple[str, ...]) -> str:
    """Write a figure's name with its unit behind: ``water R headroom [stops]``."""
    words = [word for name in path if name != "channels" for word in name.split("_")]
    unit = next((word for word in reversed(words) if word in _UNITS), None)
    return " ".join([*(word for word in words if word != unit), *([_UNITS[unit]] if unit else [])])


def _reading(frame: FrameStory, path: tuple[str, ...]) -> Cell:
    found: Any = frame.readings
    for name in path:
        found = found.get(name) if isinstance(found, dict) else getattr(found, name, None)
    return found if not isinstance(found, float) or isfinite(found) else None


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
    *_readings(FrameReadings),
]
