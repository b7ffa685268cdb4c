"""A picture of the regions over a frame: water under lines, rock under dots, so that they tell apart by shape."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from tether.files.marked import plain_beside, write_marked
from tether.files.preview import preview_of
from tether.files.safe import safe_write
from tether.frames.mosaic import Kind
from tether.frames.regions import Regions

#: Longest side of the picture [px].
_SIDE_PX = 1440
_STEP_PX = 9
_LEGEND_PX = 34
KINDS: tuple[Kind, Kind] = ("water", "rock")
_LIGHT, _DARK = (255, 255, 255), (0, 0, 0)


def save_regions_picture(frame: Path, regions: Regions, path: Path) -> None:
    """Draw regions over the preview of a raw frame into a JPEG; beside it, the plain preview with the regions' letters.

    Raises
    ------
    UnreadableFileError
        The frame can't be read.
    SupplyError, LostError
        The picture can't be written.
    """
    sideways, left_turns = preview_of(frame)
    preview = Image.fromarray(np.rot90(sideways, left_turns))
    preview.thumbnail((_SIDE_PX, _SIDE_PX))
    letters = np.rot90([list(row) for row in regions.cells], left_turns)
    write_marked(plain_beside(path), preview, ["".join(row) for row in letters])
    width, height = preview.size
    picture = Image.new("RGB", (width, height + _LEGEND_PX), _DARK)
    picture.paste(preview.point(lambda value: value * 3 // 4), (0, 0))
    draw = ImageDraw.Draw(picture)
    water, rock = (np.rot90(regions.cell_mask(kind), left_turns) for kind in KINDS)
    _lines(draw, _enlarged(water, width, height))
    _dots(draw, _enlarged(rock, width, height))
    legend = (
        f"lines: water, {regions.share('water'):.0%}     dots: rock that stands still, {regions.share('rock'):.0%}"
        "     plain: neither"
    )
    draw.text((10, height + 6), legend, fill=_LIGHT, font_size=18)
    file = io.BytesIO()
    picture.save(file, "JPEG", quality=88)
    safe_write(path, file.getvalue())


def _enlarged(cells: NDArray[np.bool_], width: int, height: int) -> NDArray[np.bool_]:
    rows, columns = (np.arange(size) * count // size for size, count in zip((height, width), cells.shape, strict=True))
    return np.asarray(cells[np.ix_(rows, columns)])


def _lines(draw: ImageDraw.ImageDraw, where: NDArray[np.bool_]) -> None:
    """Draw falling strokes wherever water is: white with a dark edge, seen on foam and on dark pools."""
    for x in range(_STEP_PX // 2, where.shape[1], _STEP_PX):
        column = np.concatenate(([False], where[:, x], [False]))
        edges = np.flatnonzero(column[1:] != column[:-1])
        for top, bottom in zip(edges[::2], edges[1::2], strict=True):
            draw.line([(x + 1, int(top)), (x + 1, int(bottom) - 1)], fill=_DARK)
            draw.line([(x, int(top)), (x, int(bottom) - 1)], fill=_LIGHT)


def _dots(draw: ImageDraw.ImageDraw, where: NDArray[np.bool_]) -> None:
    height, width = where.shape
    for y in range(_STEP_PX // 2, height, _STEP_PX):
        for x in range(_STEP_PX // 2, width, _STEP_PX):
            if where[y, x]:
                draw.rectangle([(x, y), (x + 2, y + 2)], fill=_DARK)
                draw.rectangle([(x, y), (x + 1, y + 1)], fill=_LIGHT)
