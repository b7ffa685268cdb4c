"""What the page shows of a run, as plain data; and the lines that tell what went on."""

from __future__ import annotations

from typing import Any

from tether.control.commands import STOPS, WORDS, Verb, Word
from tether.control.messages import Facts
from tether.journal.records import FrameSoFar, State
from tether.journal.snapshot import Snapshot
from tether.report import told
from tether.wording import kind, measured_time, planned_time

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
    "headroom of the water": "Headroom of the water",
    "rock": "Rock",
    "moved": "Moved",
    "sharp": "Sharpness",
}
_OPEN_VERBS: tuple[Verb, ...] = tuple(word.verb for word in WORDS if word.while_open)
#: What the large buttons say.
_ANSWER: Verb = "answer"
_BACK: Verb = "take back"
_MISSING: Verb = "not in the bag"
_LEAVING: Verb = "stop now and keep"
_STOPS = frozenset(STOPS)
_ON_REGIONS: tuple[Verb, ...] = ("regions right", "regions wrong")
#: Verbs that have a button of their own elsewhere.
_ELSEWHERE: tuple[Verb, ...] = (_ANSWER, _BACK, _MISSING, *_ON_REGIONS, *STOPS)


def view_of(facts: Facts, snapshot: Snapshot) -> Data:
    """Return what there is to show of a run. Moments are of the run's clock [s]; None: there is none, or not known."""
    planned = snapshot.planned
    return {
        "title": facts.title,
        "simulated": facts.simulated,
        "untried": not facts.simulated and planned is not None and planned.body.tried is None,
        "state": _state(snapshot),
        "rung": _rung(snapshot),
        "open": _open(snapshot),
        "next": "" if snapshot.turn or not _STOPS.isdisjoint(snapshot.pending) else told.next_turn(snapshot),
        "then": told.next_while_open(snapshot),
        "ask": _ask(snapshot),
        "back": _back(snapshot),
        "regions": _regions(snapshot),
        "last": _last(snapshot),
        "supplies": [
            *(
                {"text": f"! Low: {text}" if low else text, "low": low}
                for text, low in told.supplies(snapshot.supplies)
            ),
            *({"text": f"! {text}" if bad else text, "low": bad} for text, bad in told.second_copy(snapshot)),
        ],
        "pending": "" if snapshot.over else "; ".join(snapshot.pending),
        "steering": [_button(snapshot, word) for word in WORDS if word.verb not in _ELSEWHERE],
        "leaving": _leaving(snapshot),
        "stops": [_button(snapshot, word) for word in WORDS if word.verb in STOPS],
        "over": told.of_ladder(snapshot.over, snapshot) if snapshot.over else None,
        "may_resume": snapshot.over is not None and snapshot.over.outcome != "done",
    }


def about(snapshot: Snapshot, verb: Verb) -> str | None:
    """Return what a verb would be about now; None where it is about the run.

    A button says what it was about when it was touched, so that a late or second touch can't hit what came after.
    """
    if verb == _ANSWER:
        if snapshot.turn:
            return snapshot.turn.what
        return f"after {len(snapshot.frames)} frames" if snapshot.state == "waiting for your key" else "nothing"
    if verb in ("skip", _MISSING) and snapshot.turn:
        return snapshot.turn.what
    if verb == _MISSING:
        return "nothing"
    if verb == _BACK:
        return f"{snapshot.done.what}, rung {snapshot.done.rung}" if snapshot.done else "nothing"
    if verb in _OPEN_VERBS:
        return f"frame {snapshot.open.frame}" if snapshot.open else "nothing"
    return None


def _state(snapshot: Snapshot) -> str:
    """Say what the run does; where it seems to do nothing, how many frames it is reading."""
    left = told.unread(snapshot)
    if snapshot.state == "ready" and left:
        return "Reading 1 frame" if left == 1 else f"Reading {left} frames"
    return _STATES[snapshot.state]


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
    if snapshot.open is None or snapshot.over:
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
    if turn := snapshot.turn:
        asks = turn.what.endswith("?")
        no = {"button": "No" if asks else "Leave it out", "does": turn.otherwise}
        return {
            "what": turn.what,
            "reason": turn.reason,
            "waiting": told.waiting_costs(turn),
            "button": "Yes" if asks else "It is done",
            "missing": told.asks_for_filters(turn),
            "no": no if turn.otherwise else None,
            "of": of,
        }
    if snapshot.state == "waiting for your key":
        asked = {"what": "take the frame", "reason": "it waits for your touch", "button": "Take it now"}
        return {**asked, "waiting": "", "missing": False, "no": None, "of": of}
    return None


def _regions(snapshot: Snapshot) -> Data | None:
    """Return water and rock as they were proposed, and what can be said of them; None where none were."""
    shown = snapshot.regions
    if shown is None or snapshot.over:
        return None
    said = {"asked": told.of_regions(shown), "right": "You said that they are right.", "wrong": "You said: wrong."}
    return {
        "what": said[shown.state],
        "picture": shown.picture,
        "state": shown.state,
        "verbs": [_button(snapshot, word) for word in WORDS if word.verb in _ON_REGIONS],
    }


def _back(snapshot: Snapshot) -> Data | None:
    """Return the button that takes the last task back, in words of what it does now; None while there is none."""
    done, frame = snapshot.done, snapshot.open
    if done is None or snapshot.over:
        return None
    if frame is None:
        words, does = "Take it back", f"“{done.what}” is asked again"
    else:
        wrong = "Wrong filter" if done.fitted is not None else "It was not done"
        closes = "close, keep, repeat" if frame.way == "held" else "repeat"
        words, does = f"{wrong}: {closes}", f"the frame is kept and does not count; “{done.what}” is asked again"
    return {"verb": _BACK, "button": words, "does": does, "of": about(snapshot, _BACK)}


def _leaving(snapshot: Snapshot) -> Data | None:
    """Return what "I'm leaving" does now; None where the ladder is over."""
    if snapshot.over:
        return None
    closes = "The shutter is open: it is closed now, and the frame is kept. " if snapshot.open else ""
    return {"verb": _LEAVING, "does": f"{closes}The run ends, and the frames on the card are copied before it does."}


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


def _button(snapshot: Snapshot, word: Word) -> Data:
    """Return a button for a word, which tells whether it is of use now: it is there only then."""
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
        return snapshot.open is not None and snapshot.open.way == "held"
    rests = snapshot.state == "paused" or any(one.startswith("pauses") for one in snapshot.pending)
    return rests if word.verb == "go on" else not (rests and word.verb == "pause")
