"""What the foreground face says: a line for each event that is worth one, and the line of what is going on."""

from __future__ import annotations

from math import hypot

from tether.control.commands import WORDS
from tether.control.events import (
    Event,
    FrameHome,
    FrameOver,
    FrameSays,
    LadderOver,
    RungBegun,
    RungOver,
    Said,
    TurnOver,
    YourTurn,
)
from tether.control.snapshot import Snapshot
from tether.wording import measured_time, planned_time, room, stops, supplies


def line_of(event: Event, rungs: int) -> str | None:
    """Return the line that is printed for an event, or None where it is not worth one. `rungs`: how many there are."""
    if isinstance(event, RungBegun):
        frames = "" if event.frames == 1 else f", {event.frames} frames"
        return f"Rung {event.rung} of {rungs}: {event.label}{frames}"
    if isinstance(event, YourTurn):
        return f"  YOUR TURN: {event.what} ({event.reason})"
    if isinstance(event, TurnOver):
        return f"  {event.what}: {event.how}"
    if isinstance(event, FrameOver):
        held = "" if event.held_s is None else f", bulb {measured_time(event.held_s)}"
        kind = "" if event.kind == "rung" else f"{event.kind} "
        return f"  {kind}frame {event.frame}: {event.outcome}{held}"
    if isinstance(event, FrameHome):
        return f"  copied: {event.name}"
    if isinstance(event, FrameSays):
        return f"  frame {event.frame} says: {says(event)}"
    if isinstance(event, RungOver):
        return f"  rung {event.rung}: {event.outcome}" + (f" ({event.note})" if event.note else "")
    if isinstance(event, Said):
        return f"  {event.text}"
    if isinstance(event, LadderOver):
        return f"The ladder is finished: {event.outcome}." + (f" {event.note}" if event.note else "")
    return None


def says(event: FrameSays) -> str:
    """Write what a frame says in a line: room to clipping, the rock's level, how far it moved, how sharp it is."""
    parts = [f"room {room(event.headroom_stops, event.clipped_share)}"]
    if event.water_clipped_share is not None:
        parts.append(f"water {room(event.water_headroom_stops, event.water_clipped_share)}")
    if event.off_stops is not None:
        parts.append(f"rock {stops(event.off_stops)} stop")
    if event.right_px is not None and event.down_px is not None:
        parts.append(f"moved {hypot(event.right_px, event.down_px):.1f} px")
    if event.sharpness_lost is not None:
        parts.append(f"sharp {-event.sharpness_lost:+.0%}".replace("-0%", "+0%"))
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
    mark = "SIMULATED  " if snapshot.planned and snapshot.planned["body"]["simulated"] else ""
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
