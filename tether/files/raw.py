"""Reads raw frames by LibRaw: the mosaic with what its numbers mean, and the embedded preview."""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import rawpy
from numpy.typing import NDArray
from PIL import Image

from tether.files.blacks import dng_blacks
from tether.files.errors import UnreadableFileError, system_reason
from tether.files.extent import check_extent

# Pillow takes more than 89 Mpx for an attack; sensors of 100 and 150 Mpx are sold.
Image.MAX_IMAGE_PIXELS = 250_000_000
#: What Pillow raises for a damaged picture; its UnidentifiedImageError is an OSError.
PICTURE_ERRORS = (OSError, SyntaxError, ValueError, Image.DecompressionBombError)
#: No raw file has less for a pixel than a bit: a real frame in lossy JPEG XL takes more than three.
_LEAST_BYTES = 1 / 8
#: This share of the rows may be zeros, at the border of a sensor.
_ZERO_ROWS = 0.01


@dataclass(frozen=True, kw_only=True)
class RawFrame:
    """The mosaic of a raw frame and what its numbers mean.

    Attributes
    ----------
    mosaic
        The visible part of the sensor as it was read out, shape (H, W), not turned upright.
    pattern
        The colours of its first two rows, read row by row: ``RGGB``, ``GRBG``, ``GBRG`` or ``BGGR``.
    black
        The raw level of no light at each of these four places, in the same order.
    white
        The raw level of clipping.
    whites
        That of red, green and blue, where the decoder knows it by channel; None: it does not.
    """

    mosaic: NDArray[np.uint16]
    pattern: str
    black: tuple[float, float, float, float]
    white: int
    whites: Mapping[str, int] | None = None

    def white_of(self, channel: str) -> int:
        """Return the raw level of clipping of a channel, ``R``, ``G`` or ``B``."""
        return self.white if self.whites is None else self.whites.get(channel, self.white)


def read_raw(path: Path) -> RawFrame:
    """Read the mosaic of a raw file.

    Raises
    ------
    UnreadableFileError
        The file is missing, empty, damaged, cut short, no raw file, holds nothing but zeros or many rows of
        them, or the sensor's colours do not repeat every two pixels. The sentence names the file.
    """
    with opened(path) as raw:
        mosaic = _mosaic(raw, path)
        cell = raw.raw_pattern
        if cell is None or cell.shape != (2, 2):
            raise UnreadableFileError(
                f"{path} is not from a sensor with a Bayer pattern, and such files can't be read."
            )
        channels = [int(channel) for channel in cell.ravel()]
        top_left, top_right, bottom_left, bottom_right = (float(raw.black_level_per_channel[c]) for c in channels)
        return RawFrame(
            mosaic=mosaic,
            pattern="".join(chr(raw.color_desc[channel]) for channel in channels),
            black=dng_blacks(path, raw.sizes.top_margin, raw.sizes.left_margin)
            or (top_left, top_right, bottom_left, bottom_right),
            white=raw.white_level,
            whites=_whites(raw),
        )


def _whites(raw: rawpy.RawPy) -> dict[str, int] | None:
    """Return the white level by colour as the maker's own notes have it; None where they do not."""
    given = raw.camera_white_level_per_channel
    if given is None:
        return None
    found: dict[str, int] = {}
    for place, white in enumerate(given):
        colour = chr(raw.color_desc[place])
        if 0 < white <= raw.white_level:
            found[colour] = min(white, found.get(colour, white))
    return found or None


@contextmanager
def opened(path: Path) -> Iterator[rawpy.RawPy]:
    """Open a raw file, and turn what LibRaw says about it into sentences."""
    try:
        if path.stat().st_size == 0:
            raise UnreadableFileError(f"{path} is empty.")
        check_extent(path)
        with rawpy.imread(str(path)) as raw:
            yield raw
    except OSError as error:
        raise UnreadableFileError(f"{path} can't be read ({system_reason(error)}).") from error
    except (rawpy.LibRawNoThumbnailError, rawpy.LibRawUnsupportedThumbnailError) as error:
        raise UnreadableFileError(f"{path} has no embedded preview that can be shown.") from error
    except rawpy.LibRawFileUnsupportedError as error:
        raise UnreadableFileError(f"{path} is not a raw file that can be read.") from error
    except (rawpy.LibRawError, rawpy.NotSupportedError) as error:
        raise UnreadableFileError(f"{path} is damaged or cut short: its picture can't be read.") from error


def embedded(raw: rawpy.RawPy, path: Path) -> NDArray[np.uint8]:
    """Read the embedded picture of a raw file that is open; LibRaw's own errors where there is none to show."""
    try:
        data = raw.extract_thumb().data
        if isinstance(data, bytes):
            return np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))
        return three_channels(data)
    except PICTURE_ERRORS as error:
        raise UnreadableFileError(f"The embedded preview of {path} is damaged.") from error


def three_channels(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return a picture of shape (h, w, 3) from one of LibRaw's, which has a single channel where it is grey."""
    return np.broadcast_to(picture, (*picture.shape[:2], 3)).copy()


def _mosaic(raw: rawpy.RawPy, path: Path) -> NDArray[np.uint16]:
    """Copy the mosaic out of LibRaw's memory, which goes with the file."""
    if raw.raw_type is not rawpy.RawType.Flat:
        raise UnreadableFileError(f"{path} holds a picture that was already developed, not the sensor's own numbers.")
    refuse_missing(raw, path)
    return raw.raw_image_visible.copy()


def refuse_missing(raw: rawpy.RawPy, path: Path) -> None:
    """Raise UnreadableFileError for a file that opens, but whose picture is not in it, or not all of it."""
    mosaic, held = raw.raw_image_visible, path.stat().st_size
    # Comes first: what is not in the file LibRaw leaves as its memory was, and that is zero only in a new process.
    if held < mosaic.size * _LEAST_BYTES:
        raise UnreadableFileError(
            f"{path} is damaged or cut short: its {held} bytes can't hold the {mosaic.size} pixels it should have."
        )
    missing = 1 - float(np.mean(mosaic.any(axis=1)))
    if missing == 1:
        raise UnreadableFileError(
            f"{path} opens, but its picture holds nothing but zeros: the cap is on, or it is damaged."
        )
    if missing > _ZERO_ROWS:
        raise UnreadableFileError(f"{path} is damaged or cut short: {missing:.0%} of its rows hold nothing but zeros.")
