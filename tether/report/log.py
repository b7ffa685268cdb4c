"""The log of an outing as plain data, for other programs: what was planned, asked, read back and really done.

The names are a promise, written down in ``tether/schemas/log.schema.json``. What is not known is null.
"""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from datetime import datetime
from math import isfinite
from typing import Any

from tether.journal.records import Applied, RegionsSet, RungEnded
from tether.journal.story import FileStory, FrameStory, LadderStory, Outing, TurnStory
from tether.report.audit import audit

LOG_SCHEMA = "tether-log/1"
#: What the log has of these; of everything else it has every field.
_KEYS: dict[type, tuple[str, ...]] = {
    Outing: ("simulated", "running", "runs", "ladders", "loose_files", "notes"),
    LadderStory: ("ladder", "title", "outcome", "frames", "rungs", "turns", "steering", "notes", "note", "regions"),
    FrameStory: (
        *("rung", "frame", "kind", "way", "outcome", "planned", "asked", "read_back", "exif", "filters"),
        *("filter_stops", "open_s", "difference_stops", "hold_realtime", "closed_by", "opened_utc", "closed_utc"),
        *("files", "readings"),
    ),
    FileStory: ("name", "bytes", "sha256", "preview"),
    TurnStory: ("before_rung", "what", "reason", "state", "utc"),
}
#: What goes by another name inside.
_INSIDE = {"bytes": "size", "before_rung": "rung"}


def log_json(outing: Outing) -> dict[str, Any]:
    """Return the log as JSON-ready data, valid by ``log.schema.json``.

    Parameters
    ----------
    outing
        As `tether.journal.read_outing` tells it.
    """
    return {"schema": LOG_SCHEMA, "outing": outing.name, **_fields(outing)}


def joined_notes(frame: FrameStory) -> str | None:
    """Return what is noted at a frame as one text; None where nothing is."""
    return " ".join(frame.notes) or None


def _data(value: Any) -> Any:
    """Return a view as JSON data; what is no finite number is null, as all that is not known."""
    match value:
        case float():
            return value if isfinite(value) else None
        case datetime():
            return value.isoformat()
        case dict():
            return {key: _data(one) for key, one in value.items()}
        case list() | tuple():
            return [_data(one) for one in value]
        case LadderStory():
            return {**_fields(value), "audit": _data(audit(value))}
        case FrameStory():
            known = {"read_back": value.read_back or Applied(), "exif": value.exif or Applied()}
            return {
                **_fields(value),
                **_data(known),
                "readings": _data(value.readings) or {},
                "note": joined_notes(value),
            }
        case RungEnded() | RegionsSet():
            return {name: _data(one) for name, one in vars(value).items() if name != "ladder"}
    return _fields(value) if is_dataclass(value) else value


def _fields(view: Any) -> dict[str, Any]:
    names = _KEYS.get(type(view)) or tuple(field.name for field in fields(view))
    return {name: _data(getattr(view, _INSIDE.get(name, name))) for name in names}
