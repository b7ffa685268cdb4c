"""Shows a picture in the terminal, two pixels a cell.

What reckons with pictures takes much memory, and is loaded when there is the first one to show: while the shutter is
open there mostly is none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from rich.color import Color
from rich.segment import Segment
from rich.style import Style
from textual.geometry import Size
from textual.strip import Strip
from textual.widget import Widget

if TYPE_CHECKING:
    from tether.desk.pictures import Picture


@dataclass(frozen=True, kw_only=True)
class Outline:
    """A rectangle over a picture, as shares of it: left, top, right, bottom; in dashes of `on` and `off` pixels."""

    box: tuple[float, float, float, float]
    on: int
    off: int


def picture_in(path: Path | None) -> Picture | None:
    """Return the picture in a file, or None where there is none that can be read."""
    if path is None or not path.is_file():
        return None
    from tether.desk.pictures import opened

    return opened(path)


class HalfBlocks(Widget):
    """Shows a picture, two pixels a cell, in the middle of its room."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self._picture: Picture | None = None
        self._outlines: tuple[Outline, ...] = ()
        self._drawn: tuple[Size, str, list[Strip]] | None = None

    def show(self, picture: Picture | None, outlines: Sequence[Outline] = ()) -> None:
        """Show a picture, rectangles over it; None: nothing."""
        self._picture = picture
        self._outlines = tuple(outlines)
        self._drawn = None
        self.refresh()

    def place_of(self, column: int, row: int) -> tuple[float, float] | None:
        """Return the place in the picture, as shares of its size, that a cell of this widget shows; None: beside it."""
        if self._picture is None:
            return None
        from tether.desk import pictures

        shown = pictures.fitted(self._picture, *self.size)
        left, top = (self.size.width - shown.shape[1]) // 2, (self.size.height - shown.shape[0] // 2) // 2
        across, down = (column - left + 0.5) / shown.shape[1], (row - top + 0.5) / (shown.shape[0] / 2)
        return (across, down) if 0 <= across <= 1 and 0 <= down <= 1 else None

    def render_line(self, y: int) -> Strip:
        """Return one line of cells."""
        lines = self._lines()
        row = y - (self.size.height - len(lines)) // 2
        if not 0 <= row < len(lines):
            return Strip.blank(self.size.width, self.rich_style)
        return lines[row]

    def _lines(self) -> list[Strip]:
        if self._drawn is None or self._drawn[:2] != (self.size, self.app.theme):
            self._drawn = (self.size, self.app.theme, self._draw())
        return self._drawn[2]

    def _draw(self) -> list[Strip]:
        if self._picture is None or not self.size:
            return []
        from tether.desk import pictures

        pixels = pictures.outlined(pictures.fitted(self._picture, *self.size), self._outlines)
        if self.app.theme == "ember":
            pixels = pictures.in_red(pixels)
        left = (self.size.width - pixels.shape[1]) // 2
        right = self.size.width - pixels.shape[1] - left
        ground = self.rich_style
        return [
            Strip(
                [
                    Segment(" " * left, ground),
                    *(_cell(above, below) for above, below in zip(pixels[row], pixels[row + 1], strict=True)),
                    Segment(" " * right, ground),
                ],
                self.size.width,
            )
            for row in range(0, pixels.shape[0], 2)
        ]


def _cell(above: Picture, below: Picture) -> Segment:
    return Segment("▀", Style(color=Color.from_rgb(*map(int, above)), bgcolor=Color.from_rgb(*map(int, below))))
