"""What a frame says it was taken with: its Exif, read by libexiv2 from any raw file or JPEG it knows.

Fields and types are those of CIPA DC-008 (Exif). Where a body leaves a field out, or fills it with a value that
stands for "unknown", the answer is None.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from fractions import Fraction
from pathlib import Path
from typing import Any

import exiv2  # type: ignore[import-untyped]

from tether.errors import system_reason
from tether.files.errors import UnreadableFileError

# libexiv2 talks to standard error about every oddity of a maker's notes.
exiv2.LogMsg.setLevel(exiv2.LogMsg.Level.mute)

#: Largest numerator or denominator that fits both RATIONAL and SRATIONAL.
LARGEST = 2**31 - 1

#: Numerators that stand for "unknown": the largest RATIONAL and the smallest SRATIONAL.
_UNKNOWN = (2**32 - 1, -(2**31))
_LONGEST_APEX_TIME = 20.0
_NARROWEST_APEX = 16.0
_DIGEST, _DIGEST_BYTES = "Exif.Image.RawImageDigest", 16
_FULL_SHORT = 65535
_ISO = "Exif.Photo.ISOSpeedRatings"
#: What a preview has of its raw frame's Exif.
_OF_IMAGE = "Make Model Software ImageDescription DateTime Artist Copyright"
_OF_PHOTO = (
    "ExifVersion ExposureTime ShutterSpeedValue FNumber ApertureValue ISOSpeedRatings SensitivityType"
    " RecommendedExposureIndex ISOSpeed ExposureBiasValue FocalLength LensModel BodySerialNumber DateTimeOriginal"
    " SubSecTimeOriginal OffsetTimeOriginal"
)
_TO_COPY = [
    *(f"Exif.Image.{name}" for name in _OF_IMAGE.split()),
    *(f"Exif.Photo.{name}" for name in _OF_PHOTO.split()),
]
#: What an upright JPEG in sRGB must have beside that (CIPA DC-008, tables 18 to 20).
_OF_PREVIEW = {
    "Exif.Image.Orientation": "1",
    "Exif.Image.XResolution": "72/1",
    "Exif.Image.YResolution": "72/1",
    "Exif.Image.ResolutionUnit": "2",
    "Exif.Image.YCbCrPositioning": "1",
    "Exif.Photo.ComponentsConfiguration": "1 2 3 0",
    "Exif.Photo.FlashpixVersion": "48 49 48 48",
    "Exif.Photo.ColorSpace": "1",
}


@dataclass(frozen=True, kw_only=True)
class FrameExif:
    """What a frame says about itself, or is to say; None where it does not.

    Attributes
    ----------
    time_s, aperture, iso, focal_mm, bias_stops
        Exposure time [s], f-number, ISO, focal length [mm], exposure correction [stops], as the body stored them:
        some store 30 s as 30, some as 32.
    taken_at
        When the exposure began, by the body's clock; without a time zone where the body does not store one.
    make, model, serial, lens, software, description
        Texts, without surrounding blanks.
    """

    time_s: float | None = None
    aperture: float | None = None
    iso: float | None = None
    focal_mm: float | None = None
    bias_stops: float | None = None
    taken_at: datetime | None = None
    make: str | None = None
    model: str | None = None
    serial: str | None = None
    lens: str | None = None
    software: str | None = None
    description: str | None = None


def read_exif(path: Path) -> FrameExif:
    """Read what a raw file or JPEG says it was taken with.

    Raises
    ------
    UnreadableFileError
        The file is missing, empty, damaged or of no known kind; the sentence names it.
    """
    data = _exif_data(path)
    return FrameExif(
        time_s=_exposure_time(data),
        aperture=_aperture(data),
        iso=_iso(data),
        focal_mm=_positive(data, "Exif.Photo.FocalLength", "Exif.Image.FocalLength"),
        bias_stops=_number(data, "Exif.Photo.ExposureBiasValue"),
        taken_at=_taken_at(data),
        make=_text(data, "Exif.Image.Make"),
        model=_text(data, "Exif.Image.Model"),
        serial=_text(data, "Exif.Photo.BodySerialNumber", "Exif.Image.CameraSerialNumber"),
        lens=_text(data, "Exif.Photo.LensModel"),
        software=_text(data, "Exif.Image.Software"),
        description=_text(data, "Exif.Image.ImageDescription"),
    )


def read_digest(path: Path) -> bytes | None:
    """Return the digest of its picture that a DNG file carries (RawImageDigest, MD5); None where it carries none.

    Raises UnreadableFileError where the file can't be read, or where what it carries is no digest.
    """
    data = _exif_data(path)
    if _DIGEST not in data or data[_DIGEST].count() != _DIGEST_BYTES:
        return None
    try:
        return bytes(int(part) for part in data[_DIGEST].toString().split())
    except ValueError as error:
        raise UnreadableFileError(f"{path} is damaged: what it says of its own picture can't be read.") from error


def copied_exif(raw_path: Path, jpeg: bytes) -> bytes:
    """Return a JPEG with what a raw frame says it was taken with; the picture is upright and in sRGB already.

    Raises
    ------
    UnreadableFileError
        The raw file can't be read, or what it says does not fit a JPEG.
    """
    from_raw = _exif_data(raw_path)
    try:
        image = exiv2.ImageFactory.open(jpeg)
        image.readMetadata()
        fields = image.exifData()
        for key in _TO_COPY:
            if key in from_raw and from_raw[key].count() > 0:
                fields[key] = from_raw[key].value()
        for key, text in _OF_PREVIEW.items():
            fields[key] = text
        fields["Exif.Photo.PixelXDimension"] = str(image.pixelWidth())
        fields["Exif.Photo.PixelYDimension"] = str(image.pixelHeight())
        image.writeMetadata()
        return bytes(image.io().mmap())
    except exiv2.Exiv2Error as error:
        raise UnreadableFileError(f"What {raw_path} says of itself can't be copied into its preview.") from error


def put_exif(picture: bytes | str, fields: Mapping[str, str]) -> Any:
    """Put fields, by libexiv2's names and as texts that it parses, into a picture: its bytes, or its file's path.

    Returns the picture as libexiv2 has it open.
    """
    image = exiv2.ImageFactory.open(picture)
    image.readMetadata()
    data = image.exifData()
    for key, text in fields.items():
        data[key] = text
    image.writeMetadata()
    return image


def exif_rational(value: float) -> Fraction:
    """Return the fraction nearest to a value that an Exif rational, signed or not, can hold.

    From 1/32000 s to 2 h it is within 1e-9 of the value; 1/8 stays 1/8.

    Raises
    ------
    ValueError
        The value is not finite, or larger than 2^31 - 1.
    """
    if not abs(value) <= LARGEST:
        raise ValueError(f"{value} does not fit an Exif rational")
    return Fraction(value).limit_denominator(int(LARGEST / max(1.0, abs(value))))


def _exif_data(path: Path) -> Any:
    try:
        if path.stat().st_size == 0:
            raise UnreadableFileError(f"{path} is empty.")
        image = exiv2.ImageFactory.open(str(path))
        image.readMetadata()
    except OSError as error:
        raise UnreadableFileError(f"{path} can't be read ({system_reason(error)}).") from error
    except exiv2.Exiv2Error as error:
        raise UnreadableFileError(f"{path} is damaged, cut short, or neither a raw file nor a JPEG.") from error
    return image.exifData()


def _exposure_time(data: Any) -> float | None:
    """Read ExposureTime first: beside it, ShutterSpeedValue is rounded, or a sentinel on a held frame."""
    time_s = _positive(data, "Exif.Photo.ExposureTime", "Exif.Image.ExposureTime")
    if time_s is not None:
        return time_s
    apex = _number(data, "Exif.Photo.ShutterSpeedValue", "Exif.Image.ShutterSpeedValue")
    return None if apex is None or abs(apex) > _LONGEST_APEX_TIME else 2.0**-apex


def _aperture(data: Any) -> float | None:
    """Read the f-number; where only its APEX value is there, that is two for each doubling."""
    aperture = _positive(data, "Exif.Photo.FNumber", "Exif.Image.FNumber")
    if aperture is not None:
        return aperture
    apex = _number(data, "Exif.Photo.ApertureValue", "Exif.Image.ApertureValue")
    return None if apex is None or not 0 < apex < _NARROWEST_APEX else 2.0 ** (apex / 2)


def _iso(data: Any) -> float | None:
    """Read the sensitivity; the short field is full at 65535, and what is higher stands in the long ones."""
    iso = _positive(data, _ISO, "Exif.Image.ISOSpeedRatings")
    if iso is None or iso >= _FULL_SHORT:
        return _positive(data, "Exif.Photo.RecommendedExposureIndex", "Exif.Photo.ISOSpeed") or iso
    return iso


def _taken_at(data: Any) -> datetime | None:
    text = _text(data, "Exif.Photo.DateTimeOriginal", "Exif.Image.DateTimeOriginal", "Exif.Image.DateTime")
    try:
        moment = datetime.strptime(text or "", "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None
    part = _text(data, "Exif.Photo.SubSecTimeOriginal") or ""
    if part.isascii() and part.isdigit():
        moment += timedelta(microseconds=int(part[:6].ljust(6, "0")))
    return moment.replace(tzinfo=_offset(_text(data, "Exif.Photo.OffsetTimeOriginal")))


def _offset(text: str | None) -> tzinfo | None:
    """Read a time zone such as ``+02:00``."""
    try:
        return datetime.strptime(text or "", "%z").tzinfo
    except ValueError:
        return None


def _positive(data: Any, *keys: str) -> float | None:
    numbers = (_number(data, key) for key in keys)
    return next((number for number in numbers if number is not None and number > 0), None)


def _number(data: Any, *keys: str) -> float | None:
    """Return the first of the fields that holds a number; x/0 and some others stand for "unknown"."""
    for key in keys:
        if key in data and data[key].count() > 0:
            top, bottom = data[key].toRational()
            if bottom != 0 and top not in _UNKNOWN:
                return float(Fraction(top, bottom))
    return None


def _text(data: Any, *keys: str) -> str | None:
    texts = (_printable(data[key].toString()) for key in keys if key in data)
    return next((text for text in texts if text), None)


def _printable(text: str) -> str:
    """Strip blanks, and put a mark in place of bytes that are no UTF-8, which libexiv2 hands on as they are."""
    return text.encode("utf-8", "surrogateescape").decode("utf-8", "replace").strip(" \0\n\t")
