"""Whether a frame that was brought home is whole."""

from __future__ import annotations

from pathlib import Path

import rawpy
from PIL import Image

from tether.errors import system_reason
from tether.files.dng import digest_of
from tether.files.errors import UnreadableFileError
from tether.files.exif import read_digest
from tether.files.raw import PICTURE_ERRORS, opened, refuse_missing

_JPEG = b"\xff\xd8\xff"


def check_frame(path: Path) -> None:
    """Check that a raw file or JPEG is complete, by decoding it from its first to its last pixel.

    Where a raw file carries the digest of its picture (DNG), that is compared too.

    Raises
    ------
    UnreadableFileError
        It is missing, empty, damaged, cut short, of no known kind, or holds nothing but zeros.
    """
    if _is_jpeg(path):
        _decode_jpeg(path)
    else:
        _decode_raw(path)


def _is_jpeg(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return file.read(len(_JPEG)) == _JPEG
    except OSError as error:
        raise UnreadableFileError(f"{path} can't be read ({system_reason(error)}).") from error


def _decode_jpeg(path: Path) -> None:
    try:
        with Image.open(path) as picture:
            picture.load()
    except PICTURE_ERRORS as error:
        raise UnreadableFileError(f"{path} is damaged or cut short: its picture can't be read.") from error


def _decode_raw(path: Path) -> None:
    with opened(path) as raw:
        raw.unpack()
        if raw.raw_type is not rawpy.RawType.Flat:
            return
        refuse_missing(raw, path)
        digest = read_digest(path)
        if digest is not None and digest != digest_of(raw.raw_image):
            raise UnreadableFileError(f"{path} is damaged: its picture is not the one that was written.")
