"""Black levels of a DNG file by place, as DNG 1.7.1.0 has them: with fractions, and where its active area begins.

LibRaw hands them on as whole numbers, and at an odd active area by the wrong place.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import tifffile

Blacks = tuple[float, float, float, float]

_DNG_VERSION, _CFA = 50706, 32803
_ACTIVE_AREA, _REPEAT, _BLACK, _BY_COLUMN, _BY_ROW = 50829, 50713, 50714, 50715, 50716


def dng_blacks(path: Path, top: int, left: int) -> Blacks | None:
    """Return the black levels of the visible picture's first two rows, read row by row; None: no DNG, or it says none.

    Parameters
    ----------
    top, left
        Where the visible picture begins in the stored one [px].
    """
    try:
        with tifffile.TiffFile(path) as file:
            if _DNG_VERSION not in file.pages[0].tags:  # type: ignore[union-attr]
                return None
            for page in (file.pages[0], *(file.pages[0].pages or ())):
                if page.tags.valueof(_BLACK) is not None and page.tags.valueof(262) == _CFA:
                    return _blacks(page.tags, top, left)
    except Exception:
        # What is no TIFF, or a damaged one, raises nearly anything; LibRaw's own number is believed then.
        return None
    return None


def _blacks(tags: Any, top: int, left: int) -> Blacks:
    active_top, active_left = tags.valueof(_ACTIVE_AREA, (0, 0))[:2]
    rows, columns = tags.valueof(_REPEAT, (1, 1))
    levels = np.array(_numbers(tags, _BLACK)).reshape(rows, columns, -1)[..., 0]
    by_row, by_column = (np.array(_numbers(tags, tag)) for tag in (_BY_ROW, _BY_COLUMN))
    down, right = top - active_top, left - active_left
    found = [
        levels[(down + row) % rows, (right + column) % columns]
        + _every_other(by_row, (down + row) % 2)
        + _every_other(by_column, (right + column) % 2)
        for row in (0, 1)
        for column in (0, 1)
    ]
    return float(found[0]), float(found[1]), float(found[2]), float(found[3])


def _every_other(values: np.ndarray[Any, Any], first: int) -> float:
    """Return the mean of every other value; 0 where there are none."""
    return float(values[first::2].mean()) if len(values) > first else 0.0


def _numbers(tags: Any, tag: int) -> list[float]:
    """Return the numbers of a tag; tifffile has rationals as flat pairs."""
    value = tags.valueof(tag)
    if value is None:
        return []
    flat = list(value) if isinstance(value, tuple) else [value]
    if tags[tag].dtype.name in ("RATIONAL", "SRATIONAL"):
        return [float(Fraction(top, bottom)) for top, bottom in zip(flat[::2], flat[1::2], strict=True)]
    return [float(each) for each in flat]
