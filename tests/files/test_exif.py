from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from fractions import Fraction
from pathlib import Path

import exiv2  # type: ignore[import-untyped]
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from tests.files.conftest import SENSOR, SHOT, Written
from tether.files.dng import write_dng
from tether.files.errors import UnreadableFileError
from tether.files.exif import LARGEST, FrameExif, exif_rational, read_exif

REAL_FILES = Path(__file__).parents[1] / "data" / "exif_real_files.csv"


def jpeg_with(path: Path, fields: dict[str, str]) -> Path:
    """Write a JPEG whose Exif holds `fields`, by libexiv2's names."""
    file = io.BytesIO()
    Image.new("RGB", (16, 16), "grey").save(file, "JPEG")
    image = exiv2.ImageFactory.open(file.getvalue())
    image.readMetadata()
    for key, text in fields.items():
        image.exifData()[key] = text
    image.writeMetadata()
    path.write_bytes(bytes(image.io().mmap()))
    return path


def test_what_was_written_is_read(written: Written) -> None:
    assert read_exif(written.path) == FrameExif(
        time_s=128.53,
        aperture=11.0,
        iso=100.0,
        focal_mm=24.0,
        bias_stops=-1 / 3,
        taken_at=SHOT.taken_at,
        make="Tether",
        model="Simulated body",
        serial="S-0042",
        lens="Simulated 24 mm",
        software="tether",
        description="Grey weir, third rung",
    )


def test_a_sensitivity_above_the_short_field(written: Written, tmp_path: Path) -> None:
    path = tmp_path / "other.dng"
    write_dng(path, written.raw, shot=replace(SHOT, iso=409600), sensor=SENSOR, preview=written.preview)
    assert read_exif(path).iso == 409600


def real_rows() -> list[dict[str, str]]:
    lines = [line for line in REAL_FILES.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return [row for row in csv.DictReader(lines) if "/" in row["ExposureTime"] and "/" in row["FNumber"]]


@pytest.mark.parametrize("row", real_rows(), ids=lambda row: row["camera"])
def test_times_and_apertures_as_real_bodies_store_them(row: dict[str, str], tmp_path: Path) -> None:
    """Whatever ShutterSpeedValue holds (eighths for thirds, marks, a sentinel): ExposureTime counts."""
    fields = {"Exif.Photo.ExposureTime": row["ExposureTime"], "Exif.Photo.FNumber": row["FNumber"]}
    if "/" in row["ShutterSpeedValue"]:
        fields["Exif.Photo.ShutterSpeedValue"] = row["ShutterSpeedValue"]
    exif = read_exif(jpeg_with(tmp_path / "real.jpg", fields))
    assert exif.time_s == float(Fraction(row["ExposureTime"]))
    assert exif.aperture == float(Fraction(row["FNumber"]))


def test_the_rows_above_hold_the_cases_that_matter() -> None:
    times = {row["ExposureTime"]: row["ShutterSpeedValue"] for row in real_rows()}
    assert times["10/1"] == "-221184/65536"
    assert times["4/1"] == "-2147483648/1"


@pytest.mark.parametrize(
    ("stored", "time_s"),
    [
        ({"ExposureTime": "32/1"}, 32.0),
        ({"ShutterSpeedValue": "3/1"}, 1 / 8),
        ({"ShutterSpeedValue": "-2147483648/1"}, None),  # the sentinel of ExifTool's test image Canon.jpg
        ({"ExposureTime": "0/0"}, None),
        ({"ExposureTime": "0/1", "ShutterSpeedValue": "-5/1"}, 32.0),
        ({}, None),
    ],
)
def test_time_where_fields_are_missing_or_unknown(stored: dict[str, str], time_s: float | None, tmp_path: Path) -> None:
    path = jpeg_with(tmp_path / "a.jpg", {f"Exif.Photo.{key}": text for key, text in stored.items()})
    assert read_exif(path).time_s == time_s


@pytest.mark.parametrize(
    ("stored", "aperture"),
    [
        ({"ApertureValue": "6/1"}, 8.0),
        ({"ApertureValue": "3/1"}, 2.0**1.5),
        ({"FNumber": "8/1", "ApertureValue": "61/10"}, 8.0),
        ({"FNumber": "0/0", "ApertureValue": "4/1"}, 4.0),
        ({"ApertureValue": "0/1"}, None),  # a lens that tells nothing
        ({}, None),
    ],
)
def test_an_aperture_that_stands_there_by_its_apex_value_alone_is_read(
    stored: dict[str, str], aperture: float | None, tmp_path: Path
) -> None:
    """CIPA DC-008: ApertureValue is 2 log2 of the f-number."""
    path = jpeg_with(tmp_path / "a.jpg", {f"Exif.Photo.{key}": text for key, text in stored.items()})
    assert read_exif(path).aperture == aperture


def test_the_largest_value_stands_for_unknown(tmp_path: Path) -> None:
    path = jpeg_with(tmp_path / "a.jpg", {"Exif.Photo.ExposureTime": "305419896/1"})
    known = (305419896).to_bytes(4, "little")
    assert path.read_bytes().count(known) == 1
    path.write_bytes(path.read_bytes().replace(known, b"\xff" * 4))
    assert read_exif(path).time_s is None


def test_a_moment_with_and_without_its_zone(tmp_path: Path) -> None:
    """The example of exiv2's test data Canon-R6-pruned.CR3: 2021-05-12T12:21:21+02:00."""
    local = {"Exif.Photo.DateTimeOriginal": "2021:05:12 12:21:21"}
    zoned = local | {"Exif.Photo.OffsetTimeOriginal": "+02:00", "Exif.Photo.SubSecTimeOriginal": "04"}
    moment = datetime(2021, 5, 12, 12, 21, 21)
    assert read_exif(jpeg_with(tmp_path / "local.jpg", local)).taken_at == moment
    taken_at = read_exif(jpeg_with(tmp_path / "zoned.jpg", zoned)).taken_at
    assert taken_at == moment.replace(microsecond=40000, tzinfo=timezone(timedelta(hours=2)))
    assert taken_at.astimezone(UTC).hour == 10


@pytest.mark.parametrize("text", ["0000:00:00 00:00:00", "    :  :     :  :  ", "yesterday"])
def test_a_clock_that_was_never_set(text: str, tmp_path: Path) -> None:
    assert read_exif(jpeg_with(tmp_path / "a.jpg", {"Exif.Photo.DateTimeOriginal": text})).taken_at is None


def test_a_text_that_is_not_utf8(tmp_path: Path) -> None:
    path = jpeg_with(tmp_path / "a.jpg", {"Exif.Image.Make": "Blatt?r"})
    path.write_bytes(path.read_bytes().replace(b"Blatt?r", b"Blatt\xf6r"))
    assert read_exif(path).make == "Blatt\N{REPLACEMENT CHARACTER}r"


def test_a_jpeg_without_exif_says_nothing(tmp_path: Path) -> None:
    exif = read_exif(jpeg_with(tmp_path / "a.jpg", {}))
    assert set(vars(exif).values()) == {None}


@pytest.mark.parametrize(
    ("content", "word"), [(b"", "empty"), (b"no picture at all " * 99, "damaged"), (b"II", "damaged")]
)
def test_files_that_are_none(content: bytes, word: str, tmp_path: Path) -> None:
    path = tmp_path / "bad.dng"
    path.write_bytes(content)
    with pytest.raises(UnreadableFileError, match=rf"bad\.dng.*{word}"):
        read_exif(path)


def test_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(UnreadableFileError, match=r"gone\.dng.*no such file"):
        read_exif(tmp_path / "gone.dng")


@given(st.floats(min_value=1 / 32000, max_value=7200))
def test_times_keep_their_value_as_rationals(time_s: float) -> None:
    assert abs(float(exif_rational(time_s)) - time_s) <= 1e-9 * time_s


@given(st.floats(min_value=-LARGEST, max_value=LARGEST))
def test_rationals_fit_their_type(value: float) -> None:
    top, bottom = exif_rational(value).as_integer_ratio()
    assert abs(top) <= LARGEST
    assert 0 < bottom <= LARGEST


@pytest.mark.parametrize("bottom", [1, 2, 3, 8, 125, 8000, 32000])
def test_simple_fractions_stay_simple(bottom: int) -> None:
    assert exif_rational(1 / bottom) == Fraction(1, bottom)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 2.0**31])
def test_values_that_no_rational_holds(value: float) -> None:
    with pytest.raises(ValueError, match="does not fit"):
        exif_rational(value)
