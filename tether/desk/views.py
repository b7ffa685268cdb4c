"""What the desk says of a run, as plain text: pure functions of a snapshot and a moment of the run's clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from pathlib import Path

from tether import wording as words
from tether.journal.planned import PlannedLadder, PlannedRung
from tether.journal.readings import FrameReadings
from tether.journal.records import FrameOpened, FrameSoFar, RungEnded
from tether.journal.snapshot import Snapshot
from tether.journal.story import SETTLED
from tether.report import told

#: After so long without a sign of life the desk says so [s].
SILENT_S = 4.0
_HATCH = "▒"
NOT_DONE = "it is not done"
#: How an exposure ends of which there is no file, as far as is known.
_NO_FILE = (None, "failed", "lost")


@dataclass(frozen=True, kw_only=True)
class Now:
    """What is going on: in one large word or a countdown, and in a sentence."""

    large: str
    sentence: str
    short: str = ""
    """The large word where there is little room."""


def now(snapshot: Snapshot, now_ns: int, left_open: FrameOpened | None = None) -> Now:
    """Say what is going on at a moment of the run's clock.

    `left_open` is the frame that was open when the run was lost, until the run that took over has begun its ladder.
    """
    if snapshot.over:
        return Now(large="ENDED", sentence=told.of_ladder(snapshot.over, snapshot))
    if left_open and snapshot.planned is None:
        return Now(large=words.countdown((left_open.closes_at_ns - now_ns) / 1e9), sentence=_left_open(left_open))
    if snapshot.open:
        opened = snapshot.open
        kind = "" if opened.kind == "rung" else f"{words.kind(opened.kind)} "
        sentence = f"OPEN: {kind}frame {opened.frame}, {words.planned_time(opened.open_s)} set"
        return Now(large=words.countdown((opened.closes_at_ns - now_ns) / 1e9), sentence=sentence)
    if snapshot.turn:
        return Now(large="YOUR TURN", sentence=f"Your turn: {snapshot.turn.what}")
    if snapshot.state == "in trouble":
        trouble = next((said.text for said in reversed(snapshot.said) if said.about == "trouble"), "")
        return Now(large="IN TROUBLE", sentence=trouble or "In trouble.")
    if snapshot.state == "ready":
        return _between(snapshot)
    return Now(large=snapshot.state.upper(), sentence=_STATES.get(snapshot.state, snapshot.state))


def _between(snapshot: Snapshot) -> Now:
    """Say what goes on where nothing is done at the camera."""
    if snapshot.planned is None:
        return Now(large="CHECKING", sentence="Camera and computer are checked before the ladder begins.")
    unread = told.unread(snapshot)
    if not unread:
        return Now(large="GETTING ON", sentence="Getting on.")
    frames, are, they = ("frame", "is", "it says") if unread == 1 else ("frames", "are", "they say")
    sentence = f"{unread} {frames} {are} read before the run continues; s continues without what {they}."
    return Now(large=f"READING {unread} {frames.upper()}", short=f"READING {unread}", sentence=sentence)


def _left_open(frame: FrameOpened) -> str:
    return (
        f"Frame {frame.frame} was open when the run was lost; the camera closes it by itself, at the moment said last."
        " The run is back and waits for that."
    )


#: None says that the shutter is shut: the run does not say so, and after a loss it may not be.
_STATES = {
    "settling": "The tripod settles.",
    "setting": "The camera is being set.",
    "opening": "About to open.",
    "fetching": "Copying frames.",
    "paused": "Paused; g continues.",
    "ended": "The run has ended.",
}


def rung_line(snapshot: Snapshot) -> str:
    """Say which rung is in hand, of how many, and what it is taken with."""
    if snapshot.planned is None:
        return "The ladder has not begun"
    count = len(snapshot.planned.rungs)
    if snapshot.rung is None:
        return f"{sum(one.outcome in SETTLED for one in snapshot.rungs)} of {count} rungs are finished"
    number = snapshot.rung.rung
    parts = [f"Rung {number} of {count}", snapshot.rung.label]
    rung = _rung(snapshot, number)
    if rung is not None:
        parts += [
            rung.aperture_label,
            f"ISO {rung.iso_label}",
            words.filters(rung.filters) if rung.filters else "no filter",
        ]
        made = sum(one.rung == number and one.kind in ("rung", None) for one in snapshot.frames)
        if snapshot.rung.frames > 1:
            parts.append(f"frame {min(made + 1, snapshot.rung.frames)} of {snapshot.rung.frames}")
    return "   ".join(parts)


def base_line(snapshot: Snapshot) -> str:
    """Say what the frames of the base said, the latest first."""
    bases = [one for one in reversed(snapshot.frames) if one.kind == "base"]
    if not bases:
        return "No frame of the base is taken yet"
    return "\n".join(f"Frame {one.frame}: {room(one.says) if one.says else 'not read'}" for one in bases)


def supplies(snapshot: Snapshot) -> str:
    """Say what is left to work with, where what is low is marked, and how far the second copy is."""
    seen = snapshot.supplies
    parts = [f"! LOW: {text}" if low else text for text, low in told.supplies(seen)]
    if seen is not None and seen.temperature_c is not None:
        parts.append(f"{seen.temperature_c:.0f} °C")
    for text, trouble in told.second_copy(snapshot):
        parts.insert(0 if trouble else len(parts), f"! {text}" if trouble else text)
    return "   ".join(parts)


def pending(snapshot: Snapshot) -> str:
    """Say what the person said and is still to be done."""
    return f"Still to be done: {'; '.join(snapshot.pending)}" if snapshot.pending and not snapshot.over else ""


def leaving_now(snapshot: Snapshot) -> str:
    """Say what comes of frames where the run is left at once."""
    copied = sum(one.name is not None for one in snapshot.frames)
    on_card = sum(one.name is None and one.outcome not in _NO_FILE for one in snapshot.frames)
    on_card += snapshot.open is not None
    safe = "the frame copied is safe" if copied == 1 else f"the {copied} frames copied are safe"
    stays = "" if not on_card else ", 1 stays on the card" if on_card == 1 else f", {on_card} stay on the card"
    return f"leave at once: {safe if copied else 'no frame is copied yet'}{stays}"


def regions(snapshot: Snapshot) -> str:
    """Say what water and rock were taken for, until the person has judged it, and where they are shown."""
    shown = snapshot.regions
    if shown is None or shown.state != "asked" or snapshot.over:
        return ""
    return f"{told.of_regions(shown)}{'; 2 shows them' if shown.picture else ''}"


def regions_taken(snapshot: Snapshot) -> str:
    """Say what the ladder takes for water and rock, and what the person said of it."""
    shown = snapshot.regions
    if shown is None:
        return ""
    said = {"right": "In use, as you said: ", "wrong": "Not used, as you said: "}.get(shown.state)
    return told.of_regions(shown) if said is None else f"{said}{shown.found}"


def left_of(outcome: str, ladder: PlannedLadder | None, ended: Sequence[RungEnded]) -> str:
    """Say how much is left of a ladder; empty where it is done."""
    if outcome == "done":
        return ""
    if ladder is None:
        return NOT_DONE
    settled = {one.rung for one in ended if one.outcome in SETTLED}
    left = sum(one.rung not in settled for one in ladder.rungs)
    return {0: "only its end is left", 1: "1 rung is left"}.get(left, f"{left} rungs are left")


def to_resume(outing: Path | None, left: str) -> tuple[str, ...]:
    """Say how a ladder of which something is left is resumed: here, or later by a command; nothing where none is."""
    if outing is None or not left:
        return ()
    return (f"B: resume this ladder, {left}", f"Or later:  tether run {words.from_here(outing)}")


def after_run(outing: Path, left: str, *, by_key: bool) -> tuple[str, ...]:
    """Say what comes after a ladder; `by_key`: a new composition gets one like it by a key, else by a command."""
    here = words.from_here(outing)
    chosen = f"5: choose among the frames. What is missing, a second copy:  tether finish {here}"
    by_command = f"Same again:  tether run {here} --same-again"
    again = "A: same again for a new composition: a new base, the filters as they are" if by_key else by_command
    return (*(to_resume(outing, left) or (chosen,)), again)


def light(snapshot: Snapshot, now: datetime | None, width: int) -> str:
    """Say what the light has done since the base, by the rock in frames without filters; of those before what fits."""
    said = told.light(snapshot, now) or "Light: not known yet; frames without filters tell it"
    for at, (_, stops, _) in enumerate(told.light_seen(snapshot)[1:5]):
        longer = f"{said}{', ' if at else '; before that '}{words.stops(stops)}"
        if len(longer) > width:
            break
        said = longer
    return said


FRAMES_HEAD = f"{'No':>4} {'Rung':<9}{'Open':>10}  {'Headroom':<15}{'Rock':>6}  {'Moved':>7}  {'Sharp':>6}  Copied"


def frame_lines(snapshot: Snapshot, most: int | None = None) -> tuple[str, ...]:
    """Give a line a frame, the latest first, in the columns of `FRAMES_HEAD`; of `most` frames, None: of all."""
    return tuple(_frame_line(snapshot, one) for one in islice(reversed(snapshot.frames), most))


def _frame_line(snapshot: Snapshot, frame: FrameSoFar) -> str:
    place = (
        frame.kind or "?"
        if frame.rung is None
        else f"{frame.rung}"
        if frame.kind in ("rung", None)
        else f"{frame.rung} {words.kind(frame.kind)}"
    )
    room, rock, moved, sharp = _says(frame.says)
    home = "card only" if frame.name is None else "copied, differs" if frame.differs else "copied"
    outcome = "" if frame.outcome in ("made", None) else f", {frame.outcome}"
    number = "?" if frame.frame is None else str(frame.frame)
    return (
        f"{number:>4} {place:<9}{_open(snapshot, frame):>10}  {room:<15}{rock:>6}  {moved:>7}  {sharp:>6}  "
        f"{home}{outcome}"
    )


def _says(says: FrameReadings | None) -> tuple[str, str, str, str]:
    if says is None:
        return ("not read", words.NOT_KNOWN, words.NOT_KNOWN, words.NOT_KNOWN)
    return (
        room(says),
        words.stops(says.off_stops),
        words.NOT_KNOWN if says.moved_px is None else f"{says.moved_px:.1f} px",
        words.NOT_KNOWN if says.sharpness_lost is None else f"{-says.sharpness_lost:+.0%}".replace("-0%", "+0%"),
    )


def room(says: FrameReadings) -> str:
    """Write the room to clipping, of the water where it is known; where it burns, hatched with the share that clips."""
    levels, of = (says.water, "water") if says.water is not None else (says, "whole")
    if levels.headroom_stops is None and levels.clipped_share:
        return f"{_HATCH * 2} {levels.clipped_share:.2%} {of}"
    return f"{words.room(levels.headroom_stops, levels.clipped_share)} {of}"


def said_lines(snapshot: Snapshot) -> tuple[str, ...]:
    """Give what the run said, the latest first; trouble is marked."""
    marks = {"trouble": "! ", "steered": "> ", "note": "· "}
    return tuple(f"{marks[said.about]}{said.text}" for said in reversed(snapshot.said))


def mark(ladder: PlannedLadder | None, simulated: bool | None) -> str:
    """Say what must stand on every screen: that no camera is there, or that its body file was never tried."""
    if simulated:
        return "SIMULATED – no camera"
    if ladder and not ladder.body.tried:
        return "BODY FILE NOT TRIED ON HARDWARE"
    return ""


def _open(snapshot: Snapshot, frame: FrameSoFar) -> str:
    if frame.held_s is not None:
        return words.measured_time(frame.held_s)
    rung = None if frame.rung is None or frame.kind not in ("rung", None) else _rung(snapshot, frame.rung)
    if rung is not None:
        return words.planned_time(rung.time_s)
    return words.NOT_KNOWN


def _rung(snapshot: Snapshot, number: int) -> PlannedRung | None:
    return snapshot.planned.rung(number) if snapshot.planned else None
