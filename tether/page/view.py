"""What the page shows of a run, as plain data; and the lines that tell what went on."""

from __future__ import annotations

from typing import Any

from tether.control.commands import STOPS, WORDS, Verb, Word
from tether.control.messages import Facts
from tether.journal.records import FrameSoFar, State
from tether.journal.snapshot import Snapshot
from tether.report import told
from tether.wording import kind, measured_time, planned_time, stops

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
#: What a frame says, as the page calls it.
_CALLED = {
    "headroom": "Headroom",
    "water": "Headroom of the water",
    "rock": "Rock",
    "moved": "Moved",
    "sharp": "Sharpness",
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
        "next": "" if snapshot.turn else told.next_turn(snapshot),
        "ask": _ask(snapshot),
        "last": _last(snapshot),
        "light": _light(snapshot),
        "supplies": [
            *(
                {"text": f"! Low: {text}" if low else text, "low": low}
                for text, low in told.supplies(snapshot.supplies)
            ),
            *({"text": f"! {text}" if bad else text, "low": bad} for text, bad in told.second_copy(snapshot)),
        ],
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
        "says": [f"{_CALLED[name]}: {value}" for name, value in told.says(frame.says)] if frame.says else [],
        "differs": list(frame.differs),
    }


def _light(snapshot: Snapshot) -> Data | None:
    """Return what the light does: how much brighter than expected the rock is in the last frame without filters."""
    for frame, off_stops in told.light_seen(snapshot):
        return {"stops": stops(off_stops), "frame": frame}
    return None


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
