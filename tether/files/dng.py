"""Writes a raw frame as a DNG file: the mosaic uncompressed, a small picture in front of it, and Exif.

The layout is the usual one of DNG 1.7.1.0 (and needs nothing newer than DNG 1.4): IFD0 holds the preview and what is
true of the whole file, a SubIFD the mosaic. tifffile writes both, libexiv2 adds the Exif fields of CIPA DC-008.
"""

from __future__ import annotations

import hashlib
import io
import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal

import numpy as np
import tifffile
from numpy.typing import NDArray

from tether.files.exif import FrameExif, exif_rational, put_exif
from tether.files.safe import safe_write

Matrix = tuple[tuple[float, float, float], tuple[float, float, float], tuple[float, float, float]]

#: XYZ to linear sRGB, IEC 61966-2-1: the colours of a sensor whose channels are those of sRGB.
SRGB_SENSOR: Matrix = ((3.2406, -1.5372, -0.4986), (-0.9689, 1.8758, 0.0415), (0.0557, -0.2040, 1.0570))

_BYTE, _ASCII, _SHORT, _RATIONAL, _SRATIONAL, _DOUBLE = 1, 2, 3, 5, 10, 12
_PREVIEW, _MAIN = 1, 0
_D65 = 21
_SCALE = 10_000
_FULL_SHORT = 65535
#: RawImageDigest.
RAW_DIGEST = 50972
#: Exif's name for a sensitivity given as a recommended exposure index.
_INDEX = 2


@dataclass(frozen=True, kw_only=True)
class SensorLevels:
    """What the numbers of a mosaic mean.

    Attributes
    ----------
    black, white
        The raw levels of no light and of clipping.
    cfa
        The colours of the mosaic's first two rows, read row by row.
    as_shot_neutral
        What a neutral grey gives in red, green and blue, relative to the greatest (AsShotNeutral).
    color_matrix
        XYZ under D65 to the sensor's red, green and blue (ColorMatrix1).
    noise
        (S, O) of sigma(x) = sqrt(S x + O), x from 0 black to 1 white (NoiseProfile); None: not known.
    """

    black: int
    white: int
    cfa: Literal["RGGB", "GRBG", "GBRG", "BGGR"] = "RGGB"
    as_shot_neutral: tuple[float, float, float] = (1.0, 1.0, 1.0)
    color_matrix: Matrix = SRGB_SENSOR
    noise: tuple[float, float] | None = None


def write_dng(
    path: Path,
    raw: NDArray[np.uint16],
    *,
    shot: FrameExif,
    sensor: SensorLevels,
    preview: NDArray[np.uint8],
    orientation: int = 1,
    fields: Mapping[str, str] | None = None,
) -> None:
    """Write a raw frame; the file is whole under its name or not there.

    Parameters
    ----------
    path
        Where to; an older file of that name is replaced.
    raw
        The mosaic, shape (H, W).
    shot, sensor
        What it was taken with and what its numbers mean.
    preview
        A small picture of it in sRGB, shape (h, w, 3), as the mosaic lies.
    orientation
        How both are to be turned upright, by Exif's number; 1: not at all.
    fields
        Further Exif fields by libexiv2's names, as texts that it parses.

    Raises
    ------
    ValueError
        An array is not of the shape or type wanted, or `shot` as :func:`exif_fields` does not take it.
    SupplyError, PlanError, LostError
        The disk would not take it, see :func:`tether.files.errors.disk_sentences`.
    """
    if raw.ndim != 2 or raw.dtype != np.uint16:
        raise ValueError("the mosaic is an array (H, W) of uint16")
    if preview.ndim != 3 or preview.shape[2] != 3 or preview.dtype != np.uint8:
        raise ValueError("the preview is an array (h, w, 3) of uint8")
    pictures = _pictures(raw, shot.model or "", sensor, preview, orientation)
    safe_write(path, bytes(put_exif(pictures, exif_fields(shot) | dict(fields or {})).io().mmap()))


def _pictures(
    raw: NDArray[np.uint16], model: str, sensor: SensorLevels, preview: NDArray[np.uint8], orientation: int
) -> bytes:
    """Return the file without its Exif."""
    file = io.BytesIO()
    with tifffile.TiffWriter(file, byteorder="<") as writer:
        writer.write(
            preview,
            photometric="rgb",
            subfiletype=_PREVIEW,
            subifds=1,
            metadata=None,
            software=False,
            extratags=[*_camera_tags(model, sensor, orientation), (RAW_DIGEST, _BYTE, 16, digest_of(raw), True)],
        )
        writer.write(
            raw,
            photometric="cfa",
            subfiletype=_MAIN,
            metadata=None,
            software=False,
            extratags=_mosaic_tags(sensor),
        )
    return file.getvalue()


def digest_of(raw: NDArray[np.uint16]) -> bytes:
    """Return the MD5 digest of a mosaic as DNG 1.7.1.0 has it (RawImageDigest): row by row, 16 bit little endian."""
    return hashlib.md5(np.ascontiguousarray(raw, dtype="<u2").data, usedforsecurity=False).digest()


def _camera_tags(model: str, sensor: SensorLevels, orientation: int) -> list[tuple[int, int, int, Any, bool]]:
    matrix = [part for row in sensor.color_matrix for value in row for part in (round(value * _SCALE), _SCALE)]
    neutral = [part for value in sensor.as_shot_neutral for part in exif_rational(value).as_integer_ratio()]
    return [
        (274, _SHORT, 1, orientation, True),  # Orientation
        (50706, _BYTE, 4, bytes((1, 4, 0, 0)), True),  # DNGVersion
        (50707, _BYTE, 4, bytes((1, 1, 0, 0)), True),  # DNGBackwardVersion
        (50708, _ASCII, 0, model, True),  # UniqueCameraModel
        (50721, _SRATIONAL, 9, matrix, True),  # ColorMatrix1
        (50728, _RATIONAL, 3, neutral, True),  # AsShotNeutral
        (50778, _SHORT, 1, _D65, True),  # CalibrationIlluminant1
    ]


def _mosaic_tags(sensor: SensorLevels) -> list[tuple[int, int, int, Any, bool]]:
    tags: list[tuple[int, int, int, Any, bool]] = [
        (33421, _SHORT, 2, (2, 2), True),  # CFARepeatPatternDim
        (33422, _BYTE, 4, bytes("RGB".index(colour) for colour in sensor.cfa), True),  # CFAPattern
        (50714, _SHORT, 1, sensor.black, True),  # BlackLevel
        (50717, _SHORT, 1, sensor.white, True),  # WhiteLevel
    ]
    if sensor.noise is not None:
        tags.append((51041, _DOUBLE, 2, sensor.noise, True))  # NoiseProfile
    return tags


def exif_fields(shot: FrameExif) -> dict[str, str]:
    """Return what a frame was taken with as Exif fields by libexiv2's names, as texts that it parses.

    It parses any rational as a signed one. Raises ValueError for a moment without a time zone, and for a time, aperture
    or ISO that is not greater than 0.
    """
    if shot.taken_at is not None and shot.taken_at.tzinfo is None:
        raise ValueError("taken_at needs a time zone")
    if any(value is not None and value <= 0 for value in (shot.time_s, shot.aperture, shot.iso)):
        raise ValueError("time_s, aperture and iso are greater than 0")
    texts = {
        "Exif.Image.Make": shot.make,
        "Exif.Image.Model": shot.model,
        "Exif.Image.Software": shot.software,
        "Exif.Image.ImageDescription": shot.description,
        "Exif.Photo.BodySerialNumber": shot.serial,
        "Exif.Photo.LensModel": shot.lens,
    }
    fields = {
        "Exif.Photo.ExifVersion": "48 50 51 50",
        "Exif.Photo.ExposureBiasValue": _ratio(exif_rational(shot.bias_stops or 0.0)),
    }
    if shot.time_s is not None:
        fields |= {
            "Exif.Photo.ExposureTime": _ratio(exif_rational(shot.time_s)),
            "Exif.Photo.ShutterSpeedValue": _ratio(exif_rational(-math.log2(shot.time_s))),
        }
    if shot.aperture is not None:
        fields |= {
            "Exif.Photo.FNumber": _ratio(exif_rational(shot.aperture)),
            "Exif.Photo.ApertureValue": _ratio(exif_rational(max(0.0, 2 * math.log2(shot.aperture)))),
        }
    if shot.iso is not None:
        fields |= {
            "Exif.Photo.ISOSpeedRatings": str(min(round(shot.iso), _FULL_SHORT)),
            "Exif.Photo.SensitivityType": str(_INDEX),
            "Exif.Photo.RecommendedExposureIndex": str(round(shot.iso)),
        }
    if shot.taken_at is not None:
        fields |= {
            "Exif.Photo.DateTimeOriginal": f"{shot.taken_at:%Y:%m:%d %H:%M:%S}",
            "Exif.Photo.SubSecTimeOriginal": f"{shot.taken_at:%f}",
            "Exif.Photo.OffsetTimeOriginal": shot.taken_at.isoformat()[-len("+00:00") :],
        }
    if shot.focal_mm is not None:
        fields["Exif.Photo.FocalLength"] = _ratio(exif_rational(shot.focal_mm))
    return fields | {key: text for key, text in texts.items() if text}


def _ratio(value: Fraction) -> str:
    return f"{value.numerator}/{value.denominator}"
