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

from tether.editor.messages import DraftRegion

if TYPE_CHECKING:
    from tether.desk.pictures import Picture
    from tether.files.marked import Marked


@dataclass(frozen=True, kw_only=True)
class Cut:
    """Which part of a picture is shown.

    Attributes
    ----------
    zoom
        How many times narrower and lower the part is; 1: all of it, or all that fills the room.
    centre
        Where its centre is to be, as shares of width and height from the left upper corner; the part stays inside.
    fill
        Whether what does not fit into the shape of the room is cut off; else the room is not filled.
    """

    zoom: int = 1
    centre: tuple[float, float] = (0.5, 0.5)
    fill: bool = False


WHOLE = Cut()


def picture_in(path: Path | None) -> Picture | None:
    """Return the picture in a file, or None where there is none that can be read."""
    if path is None or not path.is_file():
        return None
    from tether.desk.pictures import opened

    return opened(path)


def marked_in(path: Path | None) -> Marked | None:
    """Return a picture with letters of what is where in it, that lies beside one with marks; None: there is none."""
    if path is None:
        return None
    from tether.files.marked import plain_beside, read_marked

    return read_marked(plain_beside(path))


class Cells(Widget):
    """A widget of lines of cells, which are kept until it is told to draw anew, or its size or the look is another."""

    _drawn: tuple[Size, str, list[Strip]] | None = None

    def draw_anew(self) -> None:
        """Show what has changed."""
        self._drawn = None
        self.refresh()

    def lines(self) -> list[Strip]:
        """Return the lines, drawn."""
        if self._drawn is None or self._drawn[:2] != (self.size, self.app.theme):
            self._drawn = (self.size, self.app.theme, self.drawn())
        return self._drawn[2]

    def drawn(self) -> list[Strip]:
        """Draw the lines."""
        raise NotImplementedError

    def in_cells(self, pixels: Picture) -> list[list[Segment]]:
        """Return the lines of a picture, two pixels a cell, one above the other."""
        if self.app.theme == "ember":
            from tether.desk import pictures

            pixels = pictures.in_red(pixels)
        return [
            [_cell_of(above, below) for above, below in zip(pixels[row], pixels[row + 1], strict=True)]
            for row in range(0, pixels.shape[0], 2)
        ]


class HalfBlocks(Cells):
    """Shows a picture, two pixels a cell, in the middle of its room."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self._picture: Picture | None = None
        self._outlines: tuple[DraftRegion, ...] = ()
        self._cut = WHOLE
        self._marks: tuple[str, ...] = ()

    def show(
        self,
        picture: Picture | None,
        outlines: Sequence[DraftRegion] = (),
        cut: Cut = WHOLE,
        marks: Sequence[str] = (),
    ) -> None:
        """Show a picture or a part of it, rectangles or marks over what is shown; None: nothing.

        `marks` are rows of letters as they lie over it; see :func:`tether.desk.pictures.marked`.
        """
        shown = (tuple(outlines), cut, tuple(marks))
        if _alike(picture, self._picture) and shown == (self._outlines, self._cut, self._marks):
            return
        self._picture = picture
        self._outlines, self._cut, self._marks = shown
        self.draw_anew()

    @property
    def seen(self) -> tuple[float, float]:
        """How much of the picture's width and height is shown."""
        if self._picture is None:
            return 1.0, 1.0
        left, top, right, bottom = self._box(self._picture)
        high, wide = self._picture.shape[:2]
        return (right - left) / wide, (bottom - top) / high

    def place_of(self, column: int, row: int) -> tuple[float, float] | None:
        """Return the place in the picture, as shares of its size, that a cell of this widget shows; None: beside it."""
        if self._picture is None:
            return None
        box = self._box(self._picture)
        wide, high = self._size_of(self._picture, box)
        left, top = (self.size.width - wide) // 2, (self.size.height - high // 2) // 2
        across, down = (column - left + 0.5) / wide, (row - top + 0.5) / (high / 2)
        if not (0 <= across <= 1 and 0 <= down <= 1):
            return None
        high, wide = self._picture.shape[:2]  # of the whole
        return (box[0] + across * (box[2] - box[0])) / wide, (box[1] + down * (box[3] - box[1])) / high

    def _box(self, picture: Picture) -> tuple[int, int, int, int]:
        from tether.desk import pictures

        return pictures.box_of(picture, self._cut, *self.size)

    def _size_of(self, picture: Picture, box: tuple[int, int, int, int]) -> tuple[int, int]:
        """Return how large a part is shown [px]: the whole room where it is cut to fill that."""
        from tether.desk import pictures

        if self._cut.fill:
            return self.size.width, 2 * self.size.height
        return pictures.room_for(pictures.within(picture, box), *self.size)

    def render_line(self, y: int) -> Strip:
        """Return one line of cells."""
        lines = self.lines()
        row = y - (self.size.height - len(lines)) // 2
        if not 0 <= row < len(lines):
            return Strip.blank(self.size.width, self.rich_style)
        return lines[row]

    def drawn(self) -> list[Strip]:
        """Draw the part that is shown, with rectangles or marks over it."""
        if self._picture is None or not self.size:
            return []
        from tether.desk import pictures

        box = self._box(self._picture)
        part = pictures.sized(pictures.within(self._picture, box), *self._size_of(self._picture, box))
        pixels = pictures.outlined(pictures.marked(part, self._marks) if self._marks else part, self._outlines)
        left = (self.size.width - pixels.shape[1]) // 2
        right = self.size.width - pixels.shape[1] - left
        ends = (Segment(" " * left, self.rich_style), Segment(" " * right, self.rich_style))
        return [Strip([ends[0], *cells, ends[1]], self.size.width) for cells in self.in_cells(pixels)]


def _alike(picture: Picture | None, other: Picture | None) -> bool:
    if picture is None or other is None:
        return picture is other
    return picture.shape == other.shape and bool((picture == other).all())


def _cell_of(above: Picture, below: Picture) -> Segment:
    """Return a cell of two pixels, one above the other."""
    return Segment("▀", Style(color=Color.from_rgb(*map(int, above)), bgcolor=Color.from_rgb(*map(int, below))))
