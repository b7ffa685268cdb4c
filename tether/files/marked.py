"""A small picture with what is where in it: a JPEG whose comment holds letters by cells, for faces that draw marks.

A face with few dots can't show marks that were drawn for many; it draws its own over the plain picture.
"""

from __future__ import annotations

import io
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from tether.files.safe import safe_write

Picture = NDArray[np.uint8]

#: Longest side of the picture [px].
_SIDE_PX = 480


@dataclass(frozen=True, kw_only=True)
class Marked:
    """A picture of shape (h, w, 3), and rows of letters as they lie over it: "w" water, "r" rock, "." neither."""

    picture: Picture
    cells: tuple[str, ...]


def plain_beside(path: Path) -> Path:
    """Return where the plain picture of one with marks is."""
    return path.with_name(f"{path.stem}-plain.jpg")


def write_marked(path: Path, picture: Image.Image, cells: Sequence[str]) -> None:
    """Write a picture, smaller, with its letters.

    Raises
    ------
    SupplyError, PlanError, LostError
        The disk would not take it, see :func:`tether.files.errors.disk_sentences`.
    """
    small = picture.convert("RGB")
    small.thumbnail((_SIDE_PX, _SIDE_PX))
    file = io.BytesIO()
    small.save(file, "JPEG", quality=88, comment=json.dumps({"cells": list(cells)}).encode())
    safe_write(path, file.getvalue())


def read_marked(path: Path) -> Marked | None:
    """Return a picture with its letters; None where there is none that can be read."""
    try:
        with Image.open(path) as picture:
            cells = json.loads(picture.info["comment"])["cells"]
            found = np.asarray(picture.convert("RGB"))
    except (OSError, UnidentifiedImageError, KeyError, TypeError, ValueError):
        return None
    whole = isinstance(cells, list) and bool(cells) and all(isinstance(row, str) and row for row in cells)
    return Marked(picture=found, cells=tuple(cells)) if whole and len({len(row) for row in cells}) == 1 else None
