"""What the foreground face says: a line for each event that is worth one, and the line of what is going on."""

from __future__ import annotations

from pathlib import PurePosixPath

from tether.control.commands import WORDS
from tether.journal.ended import as_end
from tether.journal.readings import FrameReadings
from tether.journal.records import (
    ExposeOutcome,
    FetchOutcome,
    FrameRead,
    KeyTurn,
    LadderEnded,
    Record,
    RunFailed,
    RungBegun,
    RungEnded,
    Turn,
)
from tether.journal.snapshot import Snapshot, sentence
from tether.report import told
from tether.wording import kind, planned_time, room, stops, supplies


def line_of(record: Record, rungs: int) -> str | None:
    """Return the line that is printed for a record, or None where it is not worth one. `rungs`: how many there are."""
    match record:
        case RungBegun(frames=1):
            return f"Rung {record.rung} of {rungs}: {record.label}"
        case RungBegun():
            return f"Rung {record.rung} of {rungs}: {record.label}, {record.frames} frames"
        case Turn(state="asked") | KeyTurn(state="asked"):
            return f"  YOUR TURN: {record.what} ({record.reason})"
        case Turn() | KeyTurn():
            return f"  {record.what}: {record.state}"
        case ExposeOutcome():
            which = "" if record.kind in ("rung", None) else f"{kind(record.kind)} "
            return f"  {which}frame {record.frame}: {told.of_frame(record)}"
        case FetchOutcome(name=str() as name):
            return f"  copied: {PurePosixPath(name).name}"
        case FrameRead(readings=FrameReadings() as readings):
            return f"  frame {record.frame} says: {says(readings)}"
        case RungEnded():
            return f"  rung {record.rung}: {told.of_rung(record)}"
        case LadderEnded():
            return told.of_ladder(record)
        case RunFailed():
            return line_of(as_end(record), rungs)
    said = sentence(record)
    return None if said is None else f"  {said.text}"


def says(readings: FrameReadings) -> str:
    """Write what a frame says in a line: room to clipping, the rock's level, how far it moved, how sharp it is."""
    parts = [f"headroom {room(readings.headroom_stops, readings.clipped_share)}"]
    if readings.water is not None:
        parts.append(f"water {room(readings.water.headroom_stops, readings.water.clipped_share)}")
    if readings.off_stops is not None:
        parts.append(f"rock {stops(readings.off_stops)} stop")
    if readings.moved_px is not None:
        parts.append(f"moved {readings.moved_px:.1f} px")
    if readings.sharpness_lost is not None:
        parts.append(f"sharp {-readings.sharpness_lost:+.0%}".replace("-0%", "+0%"))
    return ", ".join(parts)


def countdown(left_s: float) -> str:
    """Write the time left until the shutter closes: ``4.2 s``, ``0:38``, ``12:05``, ``1:02:00``."""
    if left_s < 10:
        return f"{left_s:.1f} s"
    minutes, seconds = divmod(round(left_s), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{seconds:02d}" if hours else f"{minutes}:{seconds:02d}"


def now_line(snapshot: Snapshot, now_ns: int) -> str:
    """Return what is going on at a moment of the run's clock; a simulated run says so."""
    mark = "SIMULATED  " if snapshot.planned and snapshot.planned.body.simulated else ""
    return mark + _going_on(snapshot, now_ns) + _low(snapshot)


def _low(snapshot: Snapshot) -> str:
    """Say what is low, where something is."""
    seen = snapshot.supplies
    if seen is None or snapshot.over:
        return ""
    found = supplies(
        seen.battery, seen.card_frames, seen.disk_bytes, seen.disk_frames, seen.to_come, battery_low=seen.battery_low
    )
    low = [text for text, is_low in found if is_low]
    return f"  LOW: {', '.join(low)}" if low else ""


def _going_on(snapshot: Snapshot, now_ns: int) -> str:
    if snapshot.open:
        left_s = max(snapshot.open.closes_at_ns - now_ns, 0) / 1e9
        frame = f"OPEN  frame {snapshot.open.frame}, {planned_time(snapshot.open.open_s)}"
        return f"{frame}: closes in {countdown(left_s)}"
    if snapshot.turn:
        return f"YOUR TURN: {snapshot.turn.what}  [space when done]"
    return snapshot.state


def key_help() -> str:
    """Return the keys and what they do, a line each."""
    shown = {" ": "space"}
    return "\n".join(
        f"  {shown.get(word.key, word.key):>5}  {word.verb}: {word.does}{' (while open)' if word.while_open else ''}"
        for word in WORDS
    )
