"""The strip at the desk: the same part of every rung along an axis of open time, two pixels a cell, with captions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.message import Message
from textual.strip import Strip

from tether.desk.half_blocks import Cells
from tether.report.axis import Axis, axis_for, scaled
from tether.report.choosing import Candidate

if TYPE_CHECKING:
    from tether.desk.pictures import Picture

#: A picture's least and greatest width, so that a caption is whole, and what is left beside it [cells].
LEAST_WIDE, _MOST_WIDE, _GAP = 8, 30, 1
#: Lines below the pictures: the time; rung and choice.
CAPTION_LINES = 2


def strip_axis(at: Sequence[float], columns: int) -> Axis:
    """Lay frames out in one line: in the room where captions fit, else longer than it, of which a part is shown."""
    fits = axis_for(at, room=columns, least=LEAST_WIDE, most=_MOST_WIDE, gap=_GAP, lines=1)
    return fits if fits.rows == 1 else scaled(at, wide=LEAST_WIDE, gap=_GAP)


def caption_of(time: str, rung: int, verdict: str | None) -> tuple[str, str]:
    """Return what stands below a picture: the time, without its unit where that would be cut; rung and choice."""
    short = time if len(time) <= LEAST_WIDE else time.rpartition(" ")[0]
    return short, f"{rung} {verdict}" if verdict else f"rung {rung}"


class StripRow(Cells):
    """Shows frames along an axis; of a longer one the part around the frame that is looked at."""

    class Picked(Message):
        """A frame was clicked."""

        def __init__(self, frame: int) -> None:
            super().__init__()
            self.frame = frame

    def __init__(self, *, id: str) -> None:  # noqa: A002
        super().__init__(id=id)
        self._frames: tuple[Candidate, ...] = ()
        self._marked: int | None = None
        self._held: int | None = None
        self._pictures: dict[int, Picture] = {}

    def say(self, frames: Sequence[Candidate], marked: int | None, held: int | None) -> None:
        """Show frames, the shortest time first; of one it is marked that it is looked at, of one that it is held."""
        said = (tuple(frames), marked, held)
        if said != (self._frames, self._marked, self._held):
            self._frames, self._marked, self._held = said
            self.draw_anew()

    def show(self, pictures: dict[int, Picture]) -> None:
        """Show pictures, by the frames' numbers; the place of a frame that has none stays empty."""
        self._pictures = pictures
        self.draw_anew()

    @property
    def axis(self) -> Axis:
        """Where frames stand."""
        return strip_axis([one.at_stops for one in self._frames], self.size.width)

    @property
    def dots(self) -> tuple[int, int]:
        """How large a picture is [px]; nothing where there is no room."""
        return self.axis.wide, max(2 * (self.size.height - CAPTION_LINES), 0)

    @property
    def first_column(self) -> int:
        """Which column of the axis stands at the left edge: what is looked at is in the middle, as far as may be."""
        axis = self.axis
        places = zip(self._frames, axis.places, strict=True)
        marked = next((place.left for one, place in places if one.frame == self._marked), 0)
        middle = marked + axis.wide // 2 - self.size.width // 2
        return min(max(middle, 0), max(axis.width - self.size.width, 0))

    def render_line(self, y: int) -> Strip:
        """Return one line of cells."""
        lines = self.lines()
        return lines[y] if y < len(lines) else Strip.blank(self.size.width, self.rich_style)

    def drawn(self) -> list[Strip]:
        """Draw the part of the axis around the frame that is looked at."""
        axis, first, room = self.axis, self.first_column, self.size.width
        pictures = {one.frame: self._cells(one.frame, axis.wide) for one in self._frames}
        found = []
        for y in range(self.size.height):
            line = Strip([])
            caption = y - (self.size.height - CAPTION_LINES)
            for one, place in zip(self._frames, axis.places, strict=True):
                gap = Segment(" " * max(place.left - line.cell_length, 0), self.rich_style)
                of = pictures[one.frame][y] if caption < 0 else self._caption(one, axis.wide, caption)
                line = Strip([*line, gap, *of])
            line = line.adjust_cell_length(max(line.cell_length, first + room), self.rich_style)
            found.append((line if caption < 0 else self._without_halves(line, axis, first)).crop(first, first + room))
        return found

    def _caption(self, one: Candidate, wide: int, line: int) -> list[Segment]:
        ground, marked = self.rich_style, one.frame == self._marked
        mark = Style(reverse=marked, underline=one.frame == self._held, bold=marked or line == 0)
        text = caption_of(one.time, one.rung, one.choice.verdict)[line][:wide]
        left = (wide - len(text)) // 2
        right = wide - left - len(text)
        return [Segment(" " * left, ground), Segment(text, ground + mark), Segment(" " * right, ground)]

    def _cells(self, frame: int, wide: int) -> list[list[Segment]]:
        """Return a picture's lines of cells; empty cells where there is none."""
        picture, high = self._pictures.get(frame), self.dots[1]
        if picture is None or not high:
            return [[Segment(" " * wide, self.rich_style)]] * self.size.height
        from tether.desk import pictures

        return self.in_cells(pictures.sized(picture, wide, high))

    def _without_halves(self, line: Strip, axis: Axis, first: int) -> Strip:
        """Leave out captions that the edge of the room would cut."""
        ground, end = self.rich_style, first + self.size.width
        for place in axis.places:
            right = place.left + axis.wide
            if place.left < first < right or place.left < end < right:
                parts = (line.crop(0, place.left), line.crop(right))
                line = Strip.join([parts[0], Strip([Segment(" " * axis.wide, ground)]), parts[1]])
        return line

    def on_click(self, event: events.Click) -> None:
        """Tell which frame was clicked."""
        axis, column = self.axis, event.x + self.first_column
        for one, place in zip(self._frames, axis.places, strict=True):
            if place.left <= column < place.left + axis.wide:
                self.post_message(self.Picked(one.frame))
