"""What the page shows of a run, as plain data; and the lines that tell what went on."""

from __future__ import annotations

from pathlib import PurePosixPath
from typing import Any

from tether.control.commands import STOPS, WORDS, Verb, Word
from tether.control.messages import Facts
from tether.journal.ended import as_end
from tether.journal.records import (
    ExposeOutcome,
    FetchOutcome,
    KeyTurn,
    LadderEnded,
    Record,
    RunFailed,
    RungBegun,
    RungEnded,
    State,
    Turn,
)
from tether.journal.snapshot import FrameSoFar, Snapshot, sentence
from tether.report import told
from tether.wording import kind, measured_time, planned_time, room, stops, supplies

Data = dict[str, Any]

_STATES: dict[State, str] = {
    "ready": "Getting ready",
    "your turn": "Your turn",
    "settling": "Waiting until nothing shakes",
    "setting": "Setting the camera",
    "waiting for your key": "Waiting for your touch",
    "opening": "Opening the shutter",
    "open": "The shutter is open",
    "fetching": "Copying frames",
    "paused": "Paused",
    "in trouble": "In trouble",
    "ended": "Ended",
}
_OPEN_VERBS: tuple[Verb, ...] = tuple(word.verb for word in WORDS if word.while_open)
#: Verbs that the large button says.
_ANSWER: Verb = "answer"


def view_of(facts: Facts, snapshot: Snapshot) -> Data:
    """Return what there is to show of a run. Moments are of the run's clock [s]; None: there is none, or not known."""
    return {
        "title": facts.title,
        "simulated": facts.simulated,
        "untried": not facts.simulated and _untried(snapshot),
        "state": _STATES[snapshot.state],
        "rung": _rung(snapshot),
        "open": _open(snapshot),
        "ask": _ask(snapshot),
        "last": _last(snapshot),
        "light": _light(snapshot),
        "supplies": _supplies(snapshot),
        "pending": "" if snapshot.over else "; ".join(snapshot.pending),
        "steering": [_button(snapshot, word) for word in WORDS if word.verb not in (_ANSWER, *STOPS)],
        "stops": [_button(snapshot, word) for word in WORDS if word.verb in STOPS],
        "over": told.of_ladder(snapshot.over) if snapshot.over else None,
    }


def about(snapshot: Snapshot, verb: Verb) -> str | None:
    """Return what a verb would be about now; None where it is about the run.

    A button says what it was about when it was touched, so that a late or second touch can't hit what came after.
    """
    if verb == _ANSWER:
        if snapshot.turn:
            return snapshot.turn.what
        return f"after {len(snapshot.frames)} frames" if snapshot.state == "waiting for your key" else "nothing"
    if verb in _OPEN_VERBS:
        return f"frame {snapshot.open.frame}" if snapshot.open else "nothing"
    return None


def line_of(record: Record) -> str | None:
    """Return the line that tells a record to whoever was away; None where it is not worth one."""
    match record:
        case RungBegun():
            return f"Rung {record.rung}: {record.label}"
        case Turn(state="asked") | KeyTurn(state="asked"):
            return f"Your turn: {record.what}"
        case Turn() | KeyTurn():
            return f"{record.what}: {record.state}"
        case ExposeOutcome():
            return f"Frame {record.frame}: {told.of_frame(record)}"
        case FetchOutcome(name=str() as name):
            return f"Copied: {PurePosixPath(name).name}"
        case RungEnded():
            return f"Rung {record.rung}: {told.of_rung(record)}"
        case LadderEnded():
            return told.of_ladder(record)
        case RunFailed():
            return told.of_ladder(as_end(record))
    said = sentence(record)
    return None if said is None else said.text


def _untried(snapshot: Snapshot) -> bool:
    return snapshot.planned is not None and snapshot.planned.body.tried is None


def _rung(snapshot: Snapshot) -> Data | None:
    if snapshot.rung is None:
        return None
    made = sum(one.rung == snapshot.rung.rung and one.kind == "rung" for one in snapshot.frames)
    return {
        "rung": snapshot.rung.rung,
        "of": len(snapshot.planned.rungs) if snapshot.planned else None,
        "label": snapshot.rung.label,
        "frames": snapshot.rung.frames,
        "made": made,
    }


def _open(snapshot: Snapshot) -> Data | None:
    if snapshot.open is None:
        return None
    which = "" if snapshot.open.kind == "rung" else f"{kind(snapshot.open.kind)} "
    return {
        "what": f"{which}frame {snapshot.open.frame}, {planned_time(snapshot.open.open_s)}",
        "opened_s": snapshot.open.at_ns / 1e9,
        "closes_s": snapshot.open.closes_at_ns / 1e9,
    }


def _ask(snapshot: Snapshot) -> Data | None:
    """Return what the large button is for."""
    of = about(snapshot, _ANSWER)
    if snapshot.turn:
        turn = snapshot.turn
        done = "Yes" if turn.what.endswith("?") else "It is done"
        return {"what": turn.what, "reason": turn.reason, "button": done, "of": of, "picture": turn.picture}
    if snapshot.state == "waiting for your key":
        reason = "it waits for your touch"
        return {"what": "take the frame", "reason": reason, "button": "Take it now", "of": of, "picture": None}
    return None


def last_home(snapshot: Snapshot) -> FrameSoFar | None:
    """Return the last frame that is home."""
    return next((one for one in reversed(snapshot.frames) if one.name and one.frame is not None), None)


def _last(snapshot: Snapshot) -> Data | None:
    frame = last_home(snapshot)
    if frame is None:
        return None
    which = "" if frame.kind in (None, "rung") else f", {kind(frame.kind)}"
    rung = f", rung {frame.rung}" if frame.rung else ""
    held = "" if frame.held_s is None else f", bulb {measured_time(frame.held_s)}"
    return {
        "frame": frame.frame,
        "name": frame.name,
        "what": f"Frame {frame.frame}{rung}{which}: {frame.outcome or 'by hand'}{held}",
        "says": _says(frame),
        "differs": list(frame.differs),
    }


def _says(frame: FrameSoFar) -> list[str]:
    """Write what a frame's pixels say, a sentence each; none where it is not read yet."""
    says = frame.says
    if says is None:
        return []
    lines = [f"Headroom: {_room(says.headroom_stops, says.clipped_share)}"]
    if says.water is not None:
        lines.append(f"Headroom of the water: {_room(says.water.headroom_stops, says.water.clipped_share)}")
    if says.moved_px is not None:
        lines.append(f"Moved: {says.moved_px:.1f} px")
    if says.sharpness_lost is not None:
        lines.append(f"Sharpness: {-says.sharpness_lost:+.0%}")
    return lines


def _room(headroom_stops: float | None, clipped_share: float) -> str:
    if headroom_stops is None and clipped_share:
        return f"{clipped_share:.1%} clipped"
    return f"{room(headroom_stops, clipped_share)} stops"


def _light(snapshot: Snapshot) -> Data | None:
    """Return what the light does: how much brighter than reckoned the rock is in the last frame without filters."""
    if snapshot.planned is None:
        return None
    always_on = tuple(one.name for one in snapshot.planned.base.filters)
    bare = {one.rung for one in snapshot.planned.rungs if one.filters == always_on}
    for frame in reversed(snapshot.frames):
        is_bare = frame.kind == "base" or frame.rung in bare
        if is_bare and frame.says and frame.says.off_stops is not None:
            return {"stops": stops(frame.says.off_stops), "frame": frame.frame}
    return None


def _supplies(snapshot: Snapshot) -> list[Data]:
    """Return what is left to work with, a part each, and whether it is low."""
    seen = snapshot.supplies
    if seen is None:
        return []
    found = supplies(
        seen.battery, seen.card_frames, seen.disk_bytes, seen.disk_frames, seen.to_come, battery_low=seen.battery_low
    )
    return [{"text": text, "low": low} for text, low in found]


def _button(snapshot: Snapshot, word: Word) -> Data:
    """Return a button for a word; it stays where it is, and tells whether it is of use now."""
    return {
        "verb": word.verb,
        "does": word.does,
        "of": about(snapshot, word.verb),
        "of_use": _of_use(snapshot, word),
    }


def _of_use(snapshot: Snapshot, word: Word) -> bool:
    if snapshot.over:
        return False
    if word.while_open:
        return snapshot.open is not None
    return (word.verb, snapshot.state) != ("pause", "paused")
