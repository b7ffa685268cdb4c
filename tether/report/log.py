"""The log of an outing as plain data, for other programs: what was planned, asked, read back and really done.

The names are a promise, written down in ``tether/schemas/log.schema.json``. What is not known is null.
"""

from __future__ import annotations

from dataclasses import asdict
from math import isfinite
from typing import Any

from tether.journal.records import Applied, RegionsSet, RungEnded
from tether.journal.story import (
    FileStory,
    FrameStory,
    LadderStory,
    NoteStory,
    Outing,
    RunStory,
    SteeringStory,
    TurnStory,
)
from tether.report.audit import audit

LOG_SCHEMA = "tether-log/1"
_NOTHING_KNOWN = Applied()


def log_json(outing: Outing) -> dict[str, Any]:
    """Return the log as JSON-ready data, valid by ``log.schema.json``.

    Parameters
    ----------
    outing
        As `tether.journal.read_outing` tells it.
    """
    return {
        "schema": LOG_SCHEMA,
        "outing": outing.name,
        "simulated": outing.simulated,
        "running": outing.running,
        "runs": [_run(run) for run in outing.runs],
        "ladders": [_ladder(ladder) for ladder in outing.ladders],
        "loose_files": [_file(file) for file in outing.loose_files],
        "notes": [_note(note) for note in outing.notes],
    }


def joined_notes(frame: FrameStory) -> str | None:
    """Return what is noted at a frame as one text; None where nothing is."""
    return " ".join(frame.notes) or None


def _run(run: RunStory) -> dict[str, Any]:
    return {
        "version": run.version,
        "simulated": run.simulated,
        "pace": run.pace,
        "camera": asdict(run.camera),
        "body_file": asdict(run.body_file),
        "started_utc": run.started_utc.isoformat(),
        "end": run.end,
        "checks": [asdict(check) for check in run.checks],
    }


def _ladder(ladder: LadderStory) -> dict[str, Any]:
    return {
        "ladder": ladder.ladder,
        "title": ladder.title,
        "outcome": ladder.outcome,
        "frames": [_frame(frame) for frame in ladder.frames],
        "rungs": [_without_ladder(rung) for rung in ladder.rungs],
        "turns": [_turn(turn) for turn in ladder.turns],
        "steering": [_steering(one) for one in ladder.steering],
        "notes": [_note(note) for note in ladder.notes],
        "note": ladder.note,
        "regions": _without_ladder(ladder.regions) if ladder.regions else None,
        "audit": [asdict(split) for split in audit(ladder)],
    }


def _without_ladder(record: RungEnded | RegionsSet) -> dict[str, Any]:
    return {name: value for name, value in vars(record).items() if name != "ladder"}


def _frame(frame: FrameStory) -> dict[str, Any]:
    return {
        "rung": frame.rung,
        "frame": frame.frame,
        "kind": frame.kind,
        "way": frame.way,
        "outcome": frame.outcome,
        "planned": asdict(frame.planned),
        "asked": asdict(frame.asked),
        "read_back": asdict(frame.read_back or _NOTHING_KNOWN),
        "exif": asdict(frame.exif or _NOTHING_KNOWN),
        "filters": list(frame.filters),
        "filter_stops": frame.filter_stops,
        "open_s": asdict(frame.open_s),
        "difference_stops": frame.difference_stops,
        "hold_realtime": frame.hold_realtime,
        "closed_by": frame.closed_by,
        "opened_utc": frame.opened_utc,
        "closed_utc": frame.closed_utc,
        "files": [_file(file) for file in frame.files],
        "readings": _known(asdict(frame.readings)) if frame.readings else {},
        "note": joined_notes(frame),
    }


def _known(value: Any) -> Any:
    """Return JSON data in which what is no finite number is null, as all that is not known."""
    if isinstance(value, float):
        return value if isfinite(value) else None
    if isinstance(value, dict):
        return {key: _known(one) for key, one in value.items()}
    return [_known(one) for one in value] if isinstance(value, list | tuple) else value


def _file(file: FileStory) -> dict[str, Any]:
    return {"name": file.name, "bytes": file.size, "sha256": file.sha256, "preview": file.preview}


def _turn(turn: TurnStory) -> dict[str, Any]:
    return {
        "before_rung": turn.rung,
        "what": turn.what,
        "reason": turn.reason,
        "state": turn.state,
        "utc": turn.utc.isoformat(),
    }


def _steering(one: SteeringStory) -> dict[str, Any]:
    return {"verb": one.verb, "effect": one.effect, "utc": one.utc.isoformat()}


def _note(note: NoteStory) -> dict[str, Any]:
    return {
        "about": note.about,
        "text": note.text,
        "frame": note.frame,
        "rung": note.rung,
        "utc": note.utc.isoformat(),
    }
