"""The light over an evening as lines of text: frames as points, the expected course in dots, corrections, and now."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import ceil

from tether.report.drawing import Minutes, Scale, minutes_axis
from tether.report.evening_told import Evening
from tether.report.light_picture import signed, stops_shown
from tether.wording import in_lines

#: A character stands for so many pixels of the axes' measure; before the plot is room for labels.
_CELL_PX, _LABELS = 8.0, 8
#: Dots of a character: two across, four down (Unicode, Braille patterns), by column and row.
_DOTS = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))
_NO_DOT = 0x2800
_MARK_ROWS = 3
_LEAST_COLUMNS = 40


class _Plot:
    """Rows of characters, and dots behind those that are blank."""

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = width, height
        self._signs = [[" "] * width for _ in range(height)]
        self._dots: dict[tuple[int, int], int] = {}

    def put(self, column: float, row: float, sign: str) -> None:
        """Put a sign where a place lies [characters from the left, from above]."""
        self._signs[self._at(row, self.height)][self._at(column, self.width)] = sign

    def upright(self, column: float, sign: str) -> None:
        """Draw a line from top to bottom, behind all else."""
        at = self._at(column, self.width)
        for row in self._signs:
            row[at] = sign if row[at] == " " else row[at]

    def dot(self, column: float, row: float) -> None:
        """Put a dot where a place lies."""
        at = self._at(row, self.height), self._at(column, self.width)
        across, down = min(int(2 * (column - at[1])), 1), min(int(4 * (row - at[0])), 3)
        self._dots[at] = self._dots.get(at, _NO_DOT) | _DOTS[max(across, 0)][max(down, 0)]

    @staticmethod
    def _at(place: float, most: int) -> int:
        return min(max(int(place), 0), most - 1)

    def rows(self) -> list[str]:
        """Return the rows."""
        return [
            "".join(
                chr(self._dots.get((at, column), ord(sign))) if sign == " " else sign for column, sign in enumerate(row)
            )
            for at, row in enumerate(self._signs)
        ]


def light_lines(evening: Evening, width: int, height: int, now_s: float | None) -> tuple[str, ...]:
    """Draw the light of an evening in lines of text.

    Parameters
    ----------
    evening
        What is drawn.
    width, height
        How much room there is for the plot with its labels, what is explained and the marks below it apart.
    now_s
        The present moment; None: it is not of this evening.

    Returns
    -------
    tuple of str
        Nothing where fewer than two frames tell of the light, or there is no room.
    """
    columns = width - _LABELS
    if len(evening.light) < 2 or columns < _LEAST_COLUMNS or height < 4:
        return ()
    minutes = minutes_axis(evening, 0.0, columns * _CELL_PX, now_s)
    shown = stops_shown(evening, minutes.scale.high)
    stops = Scale(low=shown[0], high=shown[-1], start=height - 0.5, end=0.5)
    plot = _Plot(columns, height)
    _draw(plot, evening, minutes, stops, now_s)
    labels = _labels(shown, stops, height)
    return (
        "Light: stops against the base frames",
        *(f"{label:>{_LABELS - 1}} {row}".rstrip() for label, row in zip(labels, plot.rows(), strict=True)),
        *(f"{' ' * _LABELS}{row}" for row in _marks(evening, minutes.scale, columns)),
        f"{' ' * _LABELS}{_minutes_row(minutes, columns)}",
        *(f"{' ' * _LABELS}{line}" for line in _explained(evening, now_s, minutes.caption, columns)),
    )


def _draw(plot: _Plot, evening: Evening, minutes: Minutes, stops: Scale, now_s: float | None) -> None:
    def column(at_s: float) -> float:
        return minutes.scale.at(at_s) / _CELL_PX

    for (at_s, one), (then_s, other) in pairwise(evening.expected):
        steps = max(ceil(2 * (column(then_s) - column(at_s))), 1)
        for step in range(steps):
            part = step / steps
            if (moment_s := at_s + part * (then_s - at_s)) <= minutes.scale.high:
                plot.dot(column(moment_s), stops.at(one + part * (other - one)))
    for point in sorted(evening.light, key=lambda one: one.bare):
        plot.put(column(point.at_s), stops.at(point.stops), "●" if point.bare else "○")
    if now_s is not None:
        plot.upright(column(now_s), "┊")
    if minutes.until and minutes.scale.low <= minutes.zero_s <= minutes.scale.high:
        plot.upright(column(minutes.zero_s), "│")


def _labels(shown: list[float], stops: Scale, height: int) -> list[str]:
    """Return what stands before each row: as many round numbers as have a row of their own."""
    labels = [""] * height
    for one in sorted(shown, key=abs):
        row = min(int(stops.at(one)), height - 1)
        labels[row] = labels[row] or signed(one)
    return labels


def _marks(evening: Evening, minutes: Scale, columns: int) -> Iterator[str]:
    """Yield rows of what was corrected, each at its moment and whole."""
    rows: list[str] = []
    for one in evening.corrections:
        at = min(max(int(minutes.at(one.at_s) / _CELL_PX), 0), columns - 1)
        mark = f"{'▲' if one.stops > 0 else '▼'}{signed(one.stops)}"
        if at + len(mark) > columns:
            mark, at = f"{mark[1:]}{mark[0]}", at + 1 - len(mark)
        row = next((row for row, text in enumerate(rows) if len(text) < at or not text), len(rows))
        if row == len(rows):
            rows.append("")
        rows[row] = f"{rows[row]:<{at}}{mark}"
    yield from rows[:_MARK_ROWS]


def _minutes_row(minutes: Minutes, columns: int) -> str:
    row = " " * columns
    for x, label in minutes.ticks():
        at = min(max(int(x / _CELL_PX) - len(label) // 2, 0), columns - len(label))
        row = f"{row[:at]}{label}{row[at + len(label) :]}"
    return row.rstrip()


def _explained(evening: Evening, now_s: float | None, caption: str, columns: int) -> list[str]:
    """Return what is explained, in as few lines as have room for it."""
    kinds = {point.bare for point in evening.light}
    parts = (
        "● without filters" if True in kinds else "",
        "○ through filters" if False in kinds else "",
        "⠒⠒ expected" if evening.expected else "",
        "▲ corrected" if evening.corrections else "",
        "┊ now" if now_s is not None else "",
        caption,
    )
    return in_lines(filter(None, parts), lambda line: len(line) <= columns, gap="   ")
