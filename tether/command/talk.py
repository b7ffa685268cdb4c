"""What the foreground face says: a line for each event that is worth one, and the line of what is going on."""

from __future__ import annotations

from tether.control.commands import WORDS
from tether.journal.records import LadderEnded, Record, RunFailed, RungBegun
from tether.journal.snapshot import Snapshot
from tether.report import told
from tether.wording import countdown, planned_time


def line_of(record: Record, snapshot: Snapshot) -> str | None:
    """Return the line that is printed for a record, or None where it is not worth one."""
    line = told.line_of(record, snapshot)
    at_margin = isinstance(record, RungBegun | LadderEnded | RunFailed)
    return line if line is None or at_margin else f"  {line}"


def now_line(snapshot: Snapshot, now_ns: int) -> str:
    """Return what is going on at a moment of the run's clock; a simulated run says so."""
    mark = "SIMULATED  " if snapshot.planned and snapshot.planned.body.simulated else ""
    return mark + _going_on(snapshot, now_ns) + _low(snapshot)


def _low(snapshot: Snapshot) -> str:
    """Say what is low, and of the second copy what goes wrong, where something is."""
    if snapshot.over:
        return ""
    low = [text for text, is_low in told.supplies(snapshot.supplies) if is_low]
    stopped = [text for text, trouble in told.second_copy(snapshot) if trouble]
    return "".join(f"  {text}" for text in (*([f"LOW: {', '.join(low)}"] if low else []), *stopped))


def _going_on(snapshot: Snapshot, now_ns: int) -> str:
    if snapshot.open:
        left_s = max(snapshot.open.closes_at_ns - now_ns, 0) / 1e9
        frame = f"OPEN  frame {snapshot.open.frame}, {planned_time(snapshot.open.open_s)}"
        return f"{frame}: closes in {countdown(left_s)}{' s' if left_s < 9.95 else ''}"
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
