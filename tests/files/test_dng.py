"""What is written must be read back by LibRaw and libexiv2, which know nothing of the writer."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

import exiv2  # type: ignore[import-untyped]
import numpy as np
import pytest
import rawpy

from tests.files.conftest import SENSOR, SHOT, Written
from tether.errors import PlanError
from tether.files.dng import exif_fields, write_dng
from tether.files.exif import read_exif


def pattern_of(path: Path) -> str:
    with rawpy.imread(str(path)) as raw:
        assert raw.raw_pattern is not None
        return "".join(chr(raw.color_desc[channel]) for channel in raw.raw_pattern.ravel())


def exif_of(path: Path) -> dict[str, str]:
    image = exiv2.ImageFactory.open(str(path))
    image.readMetadata()
    return {datum.key(): datum.toString() for datum in image.exifData()}


def test_libraw_reads_the_mosaic_and_its_levels(written: Written) -> None:
    with rawpy.imread(str(written.path)) as raw:
        assert np.array_equal(raw.raw_image_visible, written.raw)
        assert raw.black_level_per_channel == [512] * 4
        assert raw.white_level == 16383


def test_libraw_develops_it_with_the_white_balance_given(written: Written) -> None:
    with rawpy.imread(str(written.path)) as raw:
        red, green, blue, _ = raw.camera_whitebalance
        assert red / green == pytest.approx(2.0, rel=1e-6)
        assert blue / green == pytest.approx(1.25, rel=1e-6)
        assert raw.postprocess(half_size=True).shape == (64, 96, 3)


def test_libraw_finds_the_preview(written: Written) -> None:
    with rawpy.imread(str(written.path)) as raw:
        assert np.array_equal(raw.extract_thumb().data, written.preview)


@pytest.mark.parametrize("cfa", ["RGGB", "GRBG", "GBRG", "BGGR"])
def test_pattern_of_the_mosaic(written: Written, tmp_path: Path, cfa: Literal["RGGB", "GRBG", "GBRG", "BGGR"]) -> None:
    path = tmp_path / "other.dng"
    write_dng(path, written.raw, shot=SHOT, sensor=replace(SENSOR, cfa=cfa), preview=written.preview)
    assert pattern_of(path) == cfa


def test_exif_as_libexiv2_reads_it(written: Written) -> None:
    exif = exif_of(written.path)
    expected = {
        "Exif.Image.NewSubfileType": "1",
        "Exif.SubImage1.NewSubfileType": "0",
        "Exif.SubImage1.NoiseProfile": "2e-05 4.5e-07",
        "Exif.Photo.ExposureTime": "12853/100",
        "Exif.Photo.FNumber": "11/1",
        "Exif.Photo.ExposureBiasValue": "-1/3",
        "Exif.Photo.ISOSpeedRatings": "100",
        "Exif.Photo.FocalLength": "24/1",
        "Exif.Photo.DateTimeOriginal": "2025:10:03 18:04:05",
        "Exif.Photo.SubSecTimeOriginal": "120000",
        "Exif.Photo.OffsetTimeOriginal": "-03:30",
        "Exif.Photo.BodySerialNumber": "S-0042",
        "Exif.Photo.LensModel": "Simulated 24 mm",
        "Exif.Image.Make": "Tether",
        "Exif.Image.Model": "Simulated body",
        "Exif.Image.UniqueCameraModel": "Simulated body",
        "Exif.Image.ImageDescription": "Grey weir, third rung",
    }
    assert {key: exif.get(key) for key in expected} == expected


@pytest.mark.parametrize("time_s", [2 ** (n / 3) for n in range(-45, 40)])
def test_exact_times_are_kept(written: Written, tmp_path: Path, time_s: float) -> None:
    """Every third stop from 1/32768 s to over two hours."""
    path = tmp_path / "other.dng"
    write_dng(path, written.raw, shot=replace(SHOT, time_s=time_s), sensor=SENSOR, preview=written.preview)
    assert read_exif(path).time_s == pytest.approx(time_s, rel=1e-9)


@pytest.mark.parametrize(("time_s", "apex"), [(1 / 8, "3/1"), (1 / 250, None), (30.0, None), (32.0, "-5/1")])
def test_shutter_speed_value_is_the_time_in_apex(
    written: Written, tmp_path: Path, time_s: float, apex: str | None
) -> None:
    path = tmp_path / "other.dng"
    write_dng(path, written.raw, shot=replace(SHOT, time_s=time_s), sensor=SENSOR, preview=written.preview)
    text = exif_of(path)["Exif.Photo.ShutterSpeedValue"]
    top, bottom = map(int, text.split("/"))
    assert 2 ** -(top / bottom) == pytest.approx(time_s, rel=1e-7)
    assert apex in (None, text)


def test_what_is_not_known_is_left_out(written: Written, tmp_path: Path) -> None:
    path = tmp_path / "other.dng"
    shot = replace(SHOT, lens="", serial="", focal_mm=None)
    write_dng(path, written.raw, shot=shot, sensor=replace(SENSOR, noise=None), preview=written.preview)
    absent = {
        "Exif.Photo.LensModel",
        "Exif.Photo.BodySerialNumber",
        "Exif.Photo.FocalLength",
        "Exif.SubImage1.NoiseProfile",
    }
    assert not absent & exif_of(path).keys()
    assert absent <= exif_of(written.path).keys()


@pytest.mark.parametrize(
    "wrong",
    [{"taken_at": datetime(2025, 10, 3, 18, 4, 5)}, {"time_s": 0.0}, {"aperture": 0.0}, {"iso": -100.0}],
)
def test_a_shot_that_cannot_be(wrong: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match=next(iter(wrong))):
        exif_fields(replace(SHOT, **wrong))


def test_arrays_of_the_wrong_shape(written: Written, tmp_path: Path) -> None:
    path = tmp_path / "other.dng"
    with pytest.raises(ValueError, match="mosaic"):
        write_dng(path, written.raw[0], shot=SHOT, sensor=SENSOR, preview=written.preview)
    with pytest.raises(ValueError, match="preview"):
        write_dng(path, written.raw, shot=SHOT, sensor=SENSOR, preview=written.preview[..., 0])
    assert not path.exists()


def test_a_missing_folder_is_a_sentence(written: Written, tmp_path: Path) -> None:
    with pytest.raises(PlanError, match="nowhere"):
        write_dng(tmp_path / "nowhere" / "a.dng", written.raw, shot=SHOT, sensor=SENSOR, preview=written.preview)
