"""Frames along an axis of open time, on which a stop is as wide everywhere: where each stands, and how wide it may be.

The unit of length is the caller's: pixels, or cells of a terminal.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import floor

#: Frames nearer than this count as of one time, and stand one under another [stops].
LEAST_GAP_STOPS = 0.3
_TINY = 1e-6


@dataclass(frozen=True, kw_only=True)
class Placed:
    """Where a frame stands: its left edge in its line, which line, and which row of the line; both from 0."""

    left: int
    line: int
    row: int


@dataclass(frozen=True, kw_only=True)
class Axis:
    """Frames laid out.

    Attributes
    ----------
    places
        Where each frame stands, in the order they were given in.
    wide, stop, width
        Width of a picture, of a stop, and of the longest line.
    firsts
        At what time each line begins [stops].
    rows
        Rows of pictures in a line; the most of any.
    """

    places: tuple[Placed, ...]
    wide: int
    stop: float
    width: int
    firsts: tuple[float, ...]
    rows: int

    @property
    def lines(self) -> int:
        """How many lines there are."""
        return len(self.firsts)


def axis_for(at: Sequence[float], *, room: int, least: int, most: int, gap: int, lines: int = 4) -> Axis:
    """Lay frames out in as few lines as let pictures be wide enough, as wide as the room and the nearest two let them.

    Parameters
    ----------
    at
        Where frames stand, the first first [stops].
    room
        Width of a line.
    least, most
        Width of a picture: lines are added until it is `least`, and it is never more than `most`.
    gap
        Left between two pictures.
    lines
        No more than so many; frames that would lie on one another then stand one under another.
    """
    found = [_laid(_broken(at, count), room, least, most, gap) for count in range(1, min(lines, max(len(at), 1)) + 1)]
    return next((one for one in found if one.rows == 1 or _at_one_time(at) >= one.rows), found[-1])


def scaled(at: Sequence[float], *, wide: int, gap: int) -> Axis:
    """Lay frames out in one line of whatever width, so that no two lie on one another but those of one time."""
    nearest = min(_gaps(at), default=1.0)
    return _placed([list(at)], wide, (wide + gap) / nearest, gap)


def _gaps(at: Sequence[float]) -> list[float]:
    return [later - earlier for earlier, later in pairwise(at) if later - earlier >= LEAST_GAP_STOPS]


def _at_one_time(at: Sequence[float]) -> int:
    """Return how many frames count as of one time, at most."""
    return max((bisect_left(at, one + LEAST_GAP_STOPS) - number for number, one in enumerate(at)), default=1)


def _broken(at: Sequence[float], count: int) -> list[list[float]]:
    """Break the axis into so many lines that the longest is as short as may be."""
    spans = sorted({later - earlier for number, earlier in enumerate(at) for later in at[number:]})
    low, high = 0, len(spans) - 1
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if len(_filled(at, spans[middle])) <= count else (middle + 1, high)
    return _filled(at, spans[low]) if spans else []


def _filled(at: Sequence[float], span: float) -> list[list[float]]:
    """Fill lines one after another, none longer than a span."""
    found: list[list[float]] = []
    for one in at:
        if not found or one - found[-1][0] > span:
            found.append([])
        found[-1].append(one)
    return found


def _laid(lines: list[list[float]], room: int, least: int, most: int, gap: int) -> Axis:
    """Lay lines out at one scale."""
    span = max((line[-1] - line[0] for line in lines), default=0.0)
    nearest = min((one for line in lines for one in _gaps(line)), default=span)
    if span == 0:
        return _placed(lines, most, 0.0, gap)
    share = nearest / span
    wide = min(max(int((share * room - gap) / (1 + share)), least), most)
    return _placed(lines, wide, min((wide + gap) / nearest, (room - wide) / span), gap)


def _placed(lines: list[list[float]], wide: int, stop: float, gap: int) -> Axis:
    places: list[Placed] = []
    for number, line in enumerate(lines):
        ends: list[int] = []
        for one in line:
            left = floor((one - line[0]) * stop + 0.5 + _TINY)  # so that a whole distance stays one
            row = next((row for row, end in enumerate(ends) if end <= left), len(ends))
            ends[row : row + 1] = [left + wide + gap]
            places.append(Placed(left=left, line=number, row=row))
    return Axis(
        places=tuple(places),
        wide=wide,
        stop=stop,
        width=max((one.left for one in places), default=0) + wide,
        firsts=tuple(line[0] for line in lines),
        rows=max((one.row for one in places), default=0) + 1,
    )
