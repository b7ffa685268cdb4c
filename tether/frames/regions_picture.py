"""A picture of the regions over a frame: water under lines, rock under dots, so that they tell apart by shape."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy.ndimage import maximum_filter

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
    water, rock = (_enlarged(np.rot90(regions.cell_mask(kind), left_turns), width, height) for kind in KINDS)
    # White with a dark edge, seen on foam and on dark pools: strokes that fall wherever water is, and dots.
    _put(picture, water & _every(width), dark=(1, 2), light=(1, 1))
    _put(picture, rock & _every(width) & _every(height)[:, None], dark=(3, 3), light=(2, 2))
    draw = ImageDraw.Draw(picture)
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


def _every(size: int) -> NDArray[np.bool_]:
    return np.asarray(np.arange(size) % _STEP_PX == _STEP_PX // 2)


def _put(picture: Image.Image, points: NDArray[np.bool_], *, dark: tuple[int, int], light: tuple[int, int]) -> None:
    """Put marks of so many pixels, down and to the right, at points: a dark one, and a light one over it."""
    for size, colour in ((dark, _DARK), (light, _LIGHT)):
        marks = maximum_filter(points, size, origin=[(side - 1) // 2 for side in size], mode="constant")
        picture.paste(colour, (0, 0), Image.fromarray(marks))
