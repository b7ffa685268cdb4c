"""What became of frames, rungs and ladders, in the words that terminal, desk and phone share."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from itertools import takewhile
from pathlib import PurePosixPath

from tether.journal.ended import as_end
from tether.journal.readings import FrameReadings
from tether.journal.records import (
    ExposeOutcome,
    FetchOutcome,
    FrameRead,
    KeyTurn,
    LadderEnded,
    Record,
    RegionsShown,
    RunFailed,
    RungBegun,
    RungEnded,
    SuppliesSeen,
    Turn,
)
from tether.journal.snapshot import Snapshot, sentence
from tether.journal.story import DONE, LadderStory
from tether.wording import before, filters, kind, measured_time, room, span, stops

#: Light that goes slower than this [stops/min] leaves time for a task: two minutes cost less than a third of a stop,
#: which a rung is corrected by without a question (own choice). Slower than the second it counts as steady.
_NO_HURRY, _STEADY = 0.15, 0.01
#: Light that was measured no longer ago is told as it is now [s].
_FRESH_S = 120.0
#: From here down a battery is said to be low (common practice, no source).
LOW_BATTERY = 0.2

#: Ladders that the person stopped, in words: whether a frame was open then, and what became of it, is told by frame.
_STOPPED = {
    "stopped after a frame": "stopped",
    "closed and kept": "stopped at once",
    "dropped": "left at once",
}


def line_of(record: Record, snapshot: Snapshot) -> str | None:
    """Return the line that tells a record, or None where it is not worth one; `snapshot`: how the run stands."""
    match record:
        case RungBegun():
            frames = "" if record.frames == 1 else f", {record.frames} frames"
            return f"Rung {record.rung} of {_rungs(snapshot)}: {record.label}{frames}"
        case Turn(state="asked") | KeyTurn(state="asked"):
            return f"YOUR TURN: {record.what} ({record.reason})"
        case Turn() | KeyTurn():
            return f"{record.what}: {record.state}"
        case RegionsShown(state="asked"):
            look = f" Look at {record.picture}." if record.picture else ""
            return f"{of_regions(record)}.{look} Say “regions right” (r) or “regions wrong” (f)."
        case ExposeOutcome():
            which = "Frame" if record.kind in ("rung", None) else f"{kind(record.kind).capitalize()} frame"
            return f"{which} {record.frame}: {of_frame(record)}"
        case FetchOutcome(name=str() as name):
            return f"Copied: {PurePosixPath(name).name}"
        case FrameRead(readings=FrameReadings() as readings):
            return f"Frame {record.frame} says: {', '.join(' '.join(part) for part in says(readings))}"
        case RungEnded():
            return f"Rung {record.rung}: {of_rung(record)}"
        case LadderEnded() | RunFailed():
            return of_ladder(as_end(record), snapshot)
    said = sentence(record)
    return None if said is None else said.text


def says(readings: FrameReadings) -> list[tuple[str, str]]:
    """Write what a frame says, by name: headroom, of its water too, the rock's level, how far it moved, how sharp."""
    parts = [("headroom", _room(readings.headroom_stops, readings.clipped_share))]
    if readings.water is not None:
        parts.append(("headroom of the water", _room(readings.water.headroom_stops, readings.water.clipped_share)))
    if readings.rock_clipped:
        parts.append(("rock", "clipped"))
    elif readings.off_stops is not None:
        parts.append(("rock", f"{stops(readings.off_stops)} stop"))
    if readings.moved_px is not None:
        parts.append(("moved", f"{readings.moved_px:.1f} px"))
    if readings.sharpness_lost is not None:
        parts.append(("sharp", f"{-readings.sharpness_lost:+.0%}".replace("-0%", "+0%")))
    return parts


def _room(headroom_stops: float | None, clipped_share: float) -> str:
    if headroom_stops is None and clipped_share:
        return f"{clipped_share:.1%} clipped"
    return f"{room(headroom_stops, clipped_share)} stops"


def supplies(seen: SuppliesSeen | None) -> list[tuple[str, bool]]:
    """Write what is left to work with, a part each, and whether it is low: under a fifth, or less than is to come."""
    if seen is None:
        return []
    parts = []
    if seen.battery is not None:
        parts.append((f"battery {seen.battery:.0%}", seen.battery < LOW_BATTERY))
    elif seen.battery_low:
        parts.append(("battery low", True))
    to_come = f", {seen.to_come} to come"
    if seen.card_frames is not None:
        low = seen.card_frames < seen.to_come
        parts.append((f"card {seen.card_frames} frames{to_come if low else ''}", low))
    if seen.disk_bytes is not None:
        low = seen.disk_frames is not None and seen.disk_frames < seen.to_come
        parts.append((f"disk {seen.disk_bytes / 1e9:.1f} GB{to_come if low else ''}", low))
    return parts


def second_copy(snapshot: Snapshot) -> list[tuple[str, bool]]:
    """Write how far the second copy is, and whether it is in trouble; nothing where there is none."""
    copy = snapshot.copy
    if copy is None:
        return []
    how_far = f"{copy.copied} of {copy.home}"
    if copy.problem is not None:
        return [(f"second copy stopped at {how_far}", True)]
    return [(f"second copy {how_far}", False)]


def light(snapshot: Snapshot, now: datetime | None) -> str:
    """Say what the light has done since the base, and how long ago that was measured, unless it is fresh or not known.

    `now` is by the run's clock. Empty where nothing has told of the light.
    """
    if not (seen := light_seen(snapshot)):
        return ""
    frame, off_stops, measured = seen[0]
    age_s = (now - datetime.fromisoformat(measured)).total_seconds() if now and measured else 0.0
    ago = f", measured {span(age_s)} ago" if age_s >= _FRESH_S else ""
    return f"Light{ago}: {stops(off_stops)} stop against the base, by frame {frame} (no filter)"


def light_seen(snapshot: Snapshot) -> list[tuple[int | None, float, str | None]]:
    """Return how much brighter than expected the rock is [stops], by frame and when it closed, the latest first.

    Only frames count that have no filter in front but those that are always on.
    """
    if snapshot.planned is None:
        return []
    always_on = {one.name for one in snapshot.planned.base.filters}
    bare = {one.rung for one in snapshot.planned.rungs if always_on.issuperset(one.filters)}
    return [
        (one.frame, one.says.off_stops, one.closed_utc)
        for one in reversed(snapshot.frames)
        if (one.kind == "base" or (one.kind == "rung" and one.rung in bare))
        and one.says
        and one.says.off_stops is not None
    ]


def unread(snapshot: Snapshot) -> int:
    """Return how many copied frames are still to be read; they are read in order, dark ones and those by hand never."""
    frames = (one for one in reversed(snapshot.frames) if one.frame is not None and one.kind != "dark")
    return sum(one.name is not None for one in takewhile(lambda one: not one.read, frames))


def of_frame(record: ExposeOutcome) -> str:
    """Say how an exposure ended: ``made, bulb 124.30 s (what is to be said of it)``."""
    held = "" if record.held_s is None else f", bulb {measured_time(record.held_s)}"
    return f"{record.outcome}{held}{_noted(record.note)}"


def of_regions(record: RegionsShown) -> str:
    """Say how large the regions are that were proposed."""
    return f"Proposed and in use: {record.found}"


def of_rung(record: RungEnded) -> str:
    """Say how a rung ended: ``done in part (why)``."""
    return f"{record.outcome}{_noted(record.note)}"


def of_ladder(record: LadderEnded, snapshot: Snapshot) -> str:
    """Say how a ladder ended, in a sentence, and why in another."""
    said = f"The ladder has ended: {ladder_outcome(record.outcome, snapshot.rungs, _rungs(snapshot))}."
    return f"{said} {record.note}" if record.note else said


def ladder_outcome(outcome: str, ended: Collection[RungEnded], rungs: int) -> str:
    """Say how a ladder ended: ``done``, ``stopped, 6 of 13 rungs are done``.

    Parameters
    ----------
    outcome
        As it is stored.
    ended
        How those of its rungs ended that did.
    rungs
        How many it has; 0: that is not known.
    """
    said = _STOPPED.get(outcome, outcome)
    if outcome == "done" or not rungs:
        return said
    return f"{said}, {sum(one.outcome in DONE for one in ended)} of {rungs} rungs are done"


def outcome_of(ladder: LadderStory) -> str:
    """Say the same of a ladder that a journal tells of."""
    return ladder_outcome(ladder.outcome, ladder.rungs, len(ladder.planned.rungs) if ladder.planned else 0)


def _rungs(snapshot: Snapshot) -> int:
    return len(snapshot.planned.rungs) if snapshot.planned else 0


def _noted(note: str | None) -> str:
    return f" ({note})" if note else ""


def next_turn(snapshot: Snapshot) -> str:
    """Say what the person is asked for next, by the ladder as planned."""
    if snapshot.planned is None or snapshot.over:
        return ""
    if snapshot.turn:
        return f"Your turn now: {snapshot.turn.what} ({snapshot.turn.reason})"
    at = snapshot.rung.rung if snapshot.rung else max((one.rung for one in snapshot.rungs), default=0)
    if (otherwise := _fitting(snapshot, at)) is not None:
        return otherwise
    for turn in snapshot.planned.turns:
        rung = turn.before_rung
        if rung is None or rung > at:
            on = "" if rung is None else f", {rung - at} rung{'' if rung - at == 1 else 's'} on"
            return f"Next task: {turn.what}, {before(rung)}{on}"
    return "No more tasks before the last rung ends"


def _fitting(snapshot: Snapshot, at: int) -> str | None:
    """Say what is to be fitted where the lens has other filters than was planned by now; None: it has those."""
    ladder, fitted = snapshot.planned, snapshot.fitted
    if ladder is None or fitted is None:
        return None
    first = at if snapshot.rung else at + 1
    rung = next((one for one in ladder.rungs if one.rung >= first), None)
    if rung is None or set(rung.filters) == set(fitted):
        return None
    if any(turn.before_rung == rung.rung for turn in ladder.turns) and snapshot.rung is None:
        return None
    return f"Next task: have on the lens {filters(rung.filters)}, {before(rung.rung)}"


def asks_for_filters(turn: Turn | KeyTurn | None) -> bool:
    """Say whether a task is to put filters on, so that one may turn out not to be in the bag."""
    parts = turn.what.split(", ") if isinstance(turn, Turn) and turn.fitted else ()
    return any(part.startswith("fit ") for part in parts)


def waiting_costs(turn: Turn | KeyTurn) -> str:
    """Say what waiting with a task costs, by the light as it was measured or by the sun; empty: it is not known."""
    goes = turn.light_stops_per_min
    if goes is None:
        return ""
    by = "by the sun " if turn.light_by_sun else ""
    if abs(goes) < _STEADY:
        return f"No hurry: {by}the light is steady."
    does = "falls" if goes < 0 else "rises"
    if abs(goes) < _NO_HURRY:
        return f"No hurry: {by}the light {does} by {_rate(goes)} stop a minute."
    return f"Waiting costs light: {by}it {does} by {_rate(goes)} stop a minute."


def _rate(stops_per_min: float) -> str:
    return f"{abs(stops_per_min):.1f}" if abs(stops_per_min) >= 0.095 else f"{abs(stops_per_min):.2f}"


def next_while_open(snapshot: Snapshot) -> str:
    """Return what the person is asked for as soon as the open frame is over; empty where nothing is, or not yet."""
    planned, rung, frame = snapshot.planned, snapshot.rung, snapshot.open
    if planned is None or rung is None or frame is None or frame.kind != "rung" or snapshot.pending:
        return ""
    made = sum(one.rung == rung.rung and one.kind == "rung" for one in snapshot.frames)
    if made + 1 < rung.frames:
        return ""
    numbers = [one.rung for one in planned.rungs]
    later = numbers[numbers.index(rung.rung) + 1 :] if rung.rung in numbers else []
    due = [turn.what for turn in planned.turns if turn.before_rung == (later[0] if later else None)]
    return ", then ".join(due)
