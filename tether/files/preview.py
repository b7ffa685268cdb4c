"""A small JPEG of a raw frame, for people to look at: upright, in sRGB, with the frame's own Exif."""

from __future__ import annotations

import io
from contextlib import suppress
from functools import cache
from pathlib import Path

import numpy as np
import rawpy
from numpy.typing import NDArray
from PIL import Image, ImageCms

from tether.errors import TetherError
from tether.files.exif import copied_exif
from tether.files.raw import embedded, left_turns_of, opened, three_channels
from tether.files.safe import safe_write

_QUALITY = 88


def save_preview(raw_path: Path, jpeg_path: Path, *, longest_px: int = 1200) -> None:
    """Write a JPEG of a raw frame, upright: the picture embedded in it or, where there is none, one developed from it.

    Parameters
    ----------
    raw_path, jpeg_path
        From and to; an older JPEG is replaced.
    longest_px
        Most pixels of the longer side; a smaller picture is not enlarged.

    Raises
    ------
    UnreadableFileError
        The raw file can't be read.
    SupplyError, PlanError, LostError
        The disk would not take it, see :func:`tether.files.errors.disk_sentences`.
    """
    sideways, left_turns = preview_of(raw_path)
    picture = Image.fromarray(np.rot90(sideways, left_turns))
    picture.thumbnail((longest_px, longest_px))
    file = io.BytesIO()
    picture.save(file, "JPEG", quality=_QUALITY, icc_profile=srgb_profile())
    safe_write(jpeg_path, _with_exif(file.getvalue(), raw_path))


@cache
def srgb_profile() -> bytes:
    """Return the profile of sRGB."""
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def _with_exif(jpeg: bytes, raw_path: Path) -> bytes:
    """Give a picture the Exif of its raw frame; where that can't be read, it is a picture without."""
    with suppress(TetherError):
        return copied_exif(raw_path, jpeg)
    return jpeg


def preview_of(path: Path) -> tuple[NDArray[np.uint8], int]:
    """Return a picture of a raw frame as the sensor lies, shape (h, w, 3), and the quarter turns left to upright.

    Raises UnreadableFileError where the file can't be read.
    """
    with opened(path) as raw:
        try:
            picture = embedded(raw, path)
        except (rawpy.LibRawNoThumbnailError, rawpy.LibRawUnsupportedThumbnailError):
            picture = three_channels(raw.postprocess(half_size=True, use_camera_wb=True, user_flip=0))
        return picture, left_turns_of(raw)
