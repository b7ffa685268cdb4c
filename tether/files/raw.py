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

from tether.errors import system_reason
from tether.files.blacks import dng_blacks
from tether.files.errors import UnreadableFileError
from tether.files.extent import check_extent, holds_picture

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
        return _frame(raw, path)


def _frame(raw: rawpy.RawPy, path: Path) -> RawFrame:
    mosaic = _mosaic(raw, path)
    cell = raw.raw_pattern
    if cell is None or cell.shape != (2, 2):
        raise UnreadableFileError(f"{path} is not from a sensor with a Bayer pattern, and such files can't be read.")
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


@dataclass(frozen=True, kw_only=True)
class RawHeader:
    """What the head of a raw file says of how it is shown.

    Attributes
    ----------
    balance
        What red, green and blue are multiplied by so that what was grey to the body is grey; green 1.
    to_srgb
        From these to linear sRGB, shape (3, 3), each row's sum 1.
    left_turns
        Quarter turns to the left that bring the picture upright.
    width, height
        Of the visible part, as the sensor lies [px].
    sensor_of_xyz
        XYZ under D65 to the sensor's red, green and blue, shape (3, 3); zeros where that is not known.
    """

    balance: tuple[float, float, float]
    to_srgb: NDArray[np.float64]
    left_turns: int
    width: int
    height: int
    sensor_of_xyz: NDArray[np.float64]


#: XYZ of sRGB's red, green and blue, D65 (IEC 61966-2-1:1999).
_XYZ_OF_SRGB = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
#: LibRaw's codes for how a frame is to be turned, and the turns to the left by 90° that do it.
_LEFT_TURNS = {3: 2, 5: 1, 6: 3}


def read_with_header(path: Path) -> tuple[RawFrame, RawHeader]:
    """Read the mosaic of a raw file, and how it is shown: as the body balanced it, by its sensor's matrix if known.

    Raises UnreadableFileError as :func:`read_raw` does.
    """
    with opened(path) as raw:
        return _frame(raw, path), _header(raw)


def _header(raw: rawpy.RawPy) -> RawHeader:
    red, green, blue = (float(raw.camera_whitebalance[place]) for place in range(3))
    if min(red, green, blue) <= 0:
        red, green, blue = (float(raw.daylight_whitebalance[place]) for place in range(3))
    return RawHeader(
        balance=(red / green, 1.0, blue / green) if min(red, green, blue) > 0 else (1.0, 1.0, 1.0),
        to_srgb=_to_srgb(raw.rgb_xyz_matrix),
        left_turns=left_turns_of(raw),
        width=raw.sizes.width,
        height=raw.sizes.height,
        sensor_of_xyz=np.asarray(raw.rgb_xyz_matrix[:3], dtype=np.float64),
    )


def left_turns_of(raw: rawpy.RawPy) -> int:
    """Return the quarter turns to the left that bring the picture of an open raw file upright."""
    return _LEFT_TURNS.get(raw.sizes.flip, 0)


def _to_srgb(sensor_of_xyz: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the way from balanced sensor colours to linear sRGB: white stays white (as DNG 1.7.1.0, chapter 6)."""
    sensor_of_srgb = np.asarray(sensor_of_xyz[:3], dtype=np.float64) @ _XYZ_OF_SRGB
    white = sensor_of_srgb.sum(axis=1, keepdims=True)
    if not np.all(white > 0):
        return np.eye(3)
    return np.asarray(np.linalg.inv(sensor_of_srgb / white))


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
        height_px, width_px = data.shape[:2]
        if not holds_picture(path, height_px, width_px, data.nbytes):
            raise rawpy.LibRawUnsupportedThumbnailError(f"{path} has no preview of {data.shape}")
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
