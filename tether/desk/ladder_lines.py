"""The ladder as a picture in lines of text: bars as high as the rungs are long, and a marker that moves along."""

from __future__ import annotations

from math import log2

from tether.journal.planned import PlannedRung
from tether.journal.snapshot import Snapshot

#: What is taken, by eighths of a row; what is not, by quarters (Unicode, block elements and Braille patterns).
_TAKEN, _TO_COME = " ▁▂▃▄▅▆▇█", " ⣀⣤⣶⣿"
#: The shortest rung is so high [rows], so that it is seen.
_LEAST = 0.25
_TURN, _HERE = "╎", "▲"
#: From so many columns a rung on there is one between it and the next.
_APART_FROM = 3
_NOT_TAKEN = ("skipped", "left out", "failed")


def share_taken(snapshot: Snapshot, now_ns: int) -> float:
    """Return how much of the rung in hand is taken at a moment of the run's clock: its frames, and of the open one."""
    if snapshot.rung is None:
        return 0.0
    made: float = sum(one.rung == snapshot.rung.rung and one.kind in ("rung", None) for one in snapshot.frames)
    opened = snapshot.open
    if opened is not None and opened.kind == "rung" and opened.open_s > 0:
        left_s = max(opened.closes_at_ns - now_ns, 0) / 1e9
        made += max(1 - left_s / opened.open_s, 0.0)
    return min(made / max(snapshot.rung.frames, 1), 1.0)


def ladder_lines(snapshot: Snapshot, width: int, height: int, share: float) -> tuple[str, ...]:
    """Draw a ladder.

    Parameters
    ----------
    snapshot
        How its run stands.
    width, height
        How much room there is for the bars [characters]; what is explained stands above them, the marker below.
    share
        How much of the rung in hand is taken; see :func:`share_taken`.

    Returns
    -------
    tuple of str
        Nothing where no ladder has begun or there is no room.
    """
    rungs = snapshot.planned.rungs if snapshot.planned else ()
    if not rungs or height < 1 or width < len(rungs):
        return ()
    each = width // len(rungs)
    at = _place(snapshot, rungs, each, share)
    taken = {one.rung for one in snapshot.rungs if one.outcome not in _NOT_TAKEN}
    bars = [_column(snapshot, rung, column, each) for rung in rungs for column in range(each)]
    solid = [
        rung.rung in taken or (at is not None and _in_hand(snapshot, rung) and number * each + column < at)
        for number, rung in enumerate(rungs)
        for column in range(each)
    ]
    highs = _heights(rungs, height)
    rows = [
        "".join(
            bar or _cell(highs[column // each] - row, _TAKEN if solid[column] else _TO_COME)
            for column, bar in enumerate(bars)
        ).rstrip()
        for row in reversed(range(height))
    ]
    return (*([_EXPLAINED] if height > 1 else []), *rows, _marker(snapshot, rungs, each, at))


_EXPLAINED = f"Ladder: the time of each rung   {_TAKEN[-1]} taken   {_TO_COME[-1]} not taken   {_TURN} a task for you"


def _heights(rungs: tuple[PlannedRung, ...], height: int) -> list[float]:
    """Return how high bars are [rows], by the stops of their times."""
    stops = [log2(one.stands_for_s or one.time_s) for one in rungs]
    low, high = min(stops), max(stops)
    room = height - _LEAST
    return [_LEAST + room * ((one - low) / (high - low) if high > low else 1.0) for one in stops]


def _cell(above: float, signs: str) -> str:
    """Return what stands in a row that a bar goes so far above the bottom of [rows]."""
    return signs[min(max(round(above * (len(signs) - 1)), 0), len(signs) - 1)]


def _column(snapshot: Snapshot, rung: PlannedRung, column: int, each: int) -> str:
    """Return what stands in a column between bars; nothing where it is of a bar."""
    if column or each < _APART_FROM:
        return ""
    turns = snapshot.planned.turns if snapshot.planned else ()
    return _TURN if any(one.before_rung == rung.rung for one in turns) else " "


def _in_hand(snapshot: Snapshot, rung: PlannedRung) -> bool:
    return snapshot.rung is not None and snapshot.rung.rung == rung.rung


def _place(snapshot: Snapshot, rungs: tuple[PlannedRung, ...], each: int, share: float) -> int | None:
    """Return the column where the ladder is; None: no rung is in hand."""
    number = next((number for number, rung in enumerate(rungs) if _in_hand(snapshot, rung)), None)
    first = 1 if each >= _APART_FROM else 0
    return None if number is None else number * each + first + min(int(share * (each - first)), each - first - 1)


def _marker(snapshot: Snapshot, rungs: tuple[PlannedRung, ...], each: int, at: int | None) -> str:
    """Return the row below the bars: the marker with its rung, or how long the first and the last one are."""
    width = each * len(rungs)
    if at is None or snapshot.rung is None:
        first, last = (one.name for one in (rungs[0], rungs[-1]))
        return f" {first}{last:>{max(width - len(first) - 1, 1)}}"
    here = f"rung {snapshot.rung.rung}, {snapshot.rung.label}"
    right = f"{' ' * at}{_HERE} {here}"
    return right if len(right) <= width else f"{' ' * max(at - len(here) - 1, 0)}{here} {_HERE}"
