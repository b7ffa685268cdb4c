"""A frame as a picture in tiles, so that a part of it is there at once: JPEGs in a ZIP archive, without compression.

``1/ROW-COLUMN.jpg`` are its tiles at full size, ``whole.jpg`` is all of it, smaller; ``about.json`` says how large both
are and how the frame is shown. It can be made again from the raw file at any time.
"""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tether.files.errors import UnreadableFileError
from tether.files.safe import safe_write

Picture = NDArray[np.uint8]

#: How the names of such files end.
TILES_END = "-tiles.zip"
#: Side of a tile [px]; the whole is smaller by this, along each side.
TILE_PX, SMALLER = 512, 4
_QUALITY = 90


@dataclass(frozen=True, kw_only=True)
class About:
    """What is in a file of tiles: the size of the frame [px], and what says how it is shown."""

    width: int
    height: int
    look: str


def write_tiles(path: Path, bands: Iterable[Picture], look: str) -> None:
    """Write a frame that comes in bands of :data:`TILE_PX` rows from the top, each of shape (rows, width, 3).

    Raises
    ------
    SupplyError, PlanError, LostError
        The disk would not take it, see :func:`tether.files.errors.disk_sentences`.
    """
    file = io.BytesIO()
    smaller: list[Image.Image] = []
    width = height = 0
    with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as archive:
        for row, band in enumerate(bands):
            for column, left in enumerate(range(0, band.shape[1], TILE_PX)):
                archive.writestr(_name(row, column), jpeg(band[:, left : left + TILE_PX]))
            width, height = band.shape[1], height + band.shape[0]
            smaller.append(Image.fromarray(band).reduce(SMALLER))
        whole = Image.new("RGB", (smaller[0].width, sum(one.height for one in smaller)))
        top = 0
        for one in smaller:
            whole.paste(one, (0, top))
            top += one.height
        archive.writestr("whole.jpg", jpeg(np.asarray(whole)))
        archive.writestr("about.json", json.dumps({"width": width, "height": height, "look": look}))
    path.parent.mkdir(parents=True, exist_ok=True)
    safe_write(path, file.getvalue())


def jpeg(picture: Picture) -> bytes:
    """Return a picture of shape (h, w, 3) as a JPEG."""
    file = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(picture)).save(file, "JPEG", quality=_QUALITY)
    return file.getvalue()


def about(path: Path) -> About | None:
    """Return what is in a file of tiles; None where there is none that can be read."""
    try:
        with zipfile.ZipFile(path) as archive:
            data = json.loads(archive.read("about.json"))
            return About(width=int(data["width"]), height=int(data["height"]), look=str(data["look"]))
    except (OSError, zipfile.BadZipFile, KeyError, TypeError, ValueError):
        return None


def part(path: Path, left: int, top: int, right: int, bottom: int) -> Picture:
    """Return a part of a frame at full size, shape (bottom - top, right - left, 3); it lies in the frame.

    Raises UnreadableFileError where the file is damaged.
    """
    found = np.zeros((bottom - top, right - left, 3), dtype=np.uint8)
    with _pictures(path) as picture:
        for row in range(top // TILE_PX, (bottom - 1) // TILE_PX + 1):
            for column in range(left // TILE_PX, (right - 1) // TILE_PX + 1):
                _lay(found, picture(_name(row, column)), row * TILE_PX - top, column * TILE_PX - left)
    return found


def whole(path: Path) -> Picture:
    """Return all of a frame, smaller by :data:`SMALLER`. Raises UnreadableFileError where the file is damaged."""
    with _pictures(path) as picture:
        return picture("whole.jpg")


@contextmanager
def _pictures(path: Path) -> Iterator[Callable[[str], Picture]]:
    """Open a file of tiles, and yield what reads a picture in it by its name."""
    try:
        with zipfile.ZipFile(path) as archive:
            yield lambda name: np.asarray(Image.open(io.BytesIO(archive.read(name))).convert("RGB"))
    except (OSError, zipfile.BadZipFile, KeyError, ValueError) as error:
        raise UnreadableFileError(f"{path} is damaged; it is made again once it is removed.") from error


def _lay(into: Picture, tile: Picture, top: int, left: int) -> None:
    """Lay a tile into a picture, as far as it reaches into it."""
    height, width = into.shape[:2]
    down, across = max(top, 0), max(left, 0)
    rows, columns = min(top + tile.shape[0], height) - down, min(left + tile.shape[1], width) - across
    into[down : down + rows, across : across + columns] = tile[
        down - top : down - top + rows, across - left : across - left + columns
    ]


def _name(row: int, column: int) -> str:
    return f"1/{row}-{column}.jpg"
