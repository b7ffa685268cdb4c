"""Writes pictures of 16 bits for an editor as TIFF files (TIFF 6.0), a band of rows at a time, with their Exif."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import tifffile
from numpy.typing import NDArray

from tether.files.exif import put_exif
from tether.files.safe import whole

Band = NDArray[np.uint16]


def write_tiff(
    path: Path,
    bands: Iterable[Band],
    shape: tuple[int, ...],
    *,
    profile: bytes | None = None,
    fields: Mapping[str, str] | None = None,
) -> None:
    """Write a picture; the file is whole under its name or not there, and an older one of that name is replaced.

    Parameters
    ----------
    path
        Where to.
    bands
        Its rows from the top, shape (rows, width, 3) each, or (rows, width) of a picture in grey.
    shape
        Of the whole: (height, width, 3) or (height, width).
    profile
        The colour profile (ICC) that its numbers are of; None: they are of none.
    fields
        Exif fields by libexiv2's names, as texts that it parses.

    Raises
    ------
    ValueError
        The bands are more or fewer than the picture has rows.
    SupplyError, PlanError, LostError
        The disk would not take it, see :func:`tether.files.errors.disk_sentences`.
    """
    with whole(path) as temp:
        picture = tifffile.memmap(
            temp,
            shape=shape,
            dtype=np.uint16,
            byteorder="<",
            photometric="rgb" if len(shape) == 3 else "minisblack",
            metadata=None,
            software=False,
            iccprofile=profile,
        )
        _fill(picture, bands)
        if fields:
            put_exif(str(temp), fields)


def _fill(picture: Any, bands: Iterable[Band]) -> None:
    top = 0
    for band in bands:
        picture[top : top + len(band)] = band
        top += len(band)
    if top != len(picture):
        raise ValueError(f"{top} rows were given for a picture of {len(picture)}")
    picture.flush()
