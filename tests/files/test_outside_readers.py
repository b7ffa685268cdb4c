"""Programs that know nothing of ours read a frame: ExifTool and Exiv2 at the command line, as packaged by Debian."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from tests.files.conftest import SENSOR, SHOT, Written
from tether.files.dng import write_dng
from tether.files.preview import save_preview

pytestmark = pytest.mark.prove


def said(*command: str | Path) -> str:
    """Run a command that must end well and say nothing on standard error."""
    program = shutil.which(command[0])
    assert program is not None, f"{command[0]} is not installed"
    run = subprocess.run([program, *command[1:]], capture_output=True, text=True, check=True)
    assert run.stderr == ""
    return run.stdout.strip()


def test_exiftool_finds_nothing_to_complain_of(written: Written) -> None:
    assert said("exiftool", "-validate", "-warning", "-error", "-a", "-s3", written.path) == "OK"


def test_exiftool_reads_the_right_values(written: Written) -> None:
    fields = ["FNumber", "ISO", "FocalLength", "ExposureCompensation", "LensModel", "SerialNumber", "WhiteLevel"]
    values = said("exiftool", "-s3", "-n", *(f"-{field}" for field in fields), written.path).splitlines()
    assert values[:3] == ["11", "100", "24"]
    assert float(values[3]) == pytest.approx(-1 / 3)
    assert values[4:] == ["Simulated 24 mm", "S-0042", "16383"]
    moment = said("exiftool", "-s3", "-SubSecDateTimeOriginal", written.path)
    assert moment == "2025:10:03 18:04:05.120000-03:30"


@pytest.mark.parametrize(
    ("time_s", "printed"),
    [
        (1 / 8000, "1/8000"),
        (1 / 8, "1/8"),
        (0.25, "1/4"),
        (0.3, "0.3"),
        (2 ** (4 / 3), "2.5"),
        (30.0, "30"),
        (32.0, "32"),
        (128.53, "128.5"),
        (600.0, "600"),
    ],
)
def test_exiftool_prints_the_time(written: Written, tmp_path: Path, time_s: float, printed: str) -> None:
    """ExifTool 12.57, PrintExposureTime: below 0.25001 s as 1/n, else one decimal without ".0"."""
    path = tmp_path / "other.dng"
    write_dng(path, written.raw, shot=replace(SHOT, time_s=time_s), sensor=SENSOR, preview=written.preview)
    assert said("exiftool", "-s3", "-ExposureTime", path) == printed


def test_exiv2_reads_it_without_a_word(written: Written) -> None:
    lines = said("exiv2", "-PEkv", written.path).splitlines()
    values = {key: value.strip() for key, _, value in (line.partition(" ") for line in lines)}
    assert values["Exif.Photo.ExposureTime"] == "12853/100"
    assert values["Exif.Photo.FNumber"] == "11/1"
    assert values["Exif.SubImage1.ImageWidth"] == "192"


def test_exiftool_reads_a_preview_as_its_frame_was_made(written: Written) -> None:
    jpeg = written.path.with_suffix(".jpg")
    save_preview(written.path, jpeg)
    assert said("exiftool", "-validate", "-warning", "-error", "-a", "-s3", jpeg) == "OK"
    fields = ["Make", "Model", "ExposureTime", "FNumber", "ISO", "FocalLength", "LensModel", "SerialNumber"]
    values = said("exiftool", "-s3", *(f"-{field}" for field in fields), jpeg).splitlines()
    assert values == ["Tether", "Simulated body", "128.5", "11.0", "100", "24.0 mm", "Simulated 24 mm", "S-0042"]
    assert said("exiftool", "-s3", "-SubSecDateTimeOriginal", jpeg) == "2025:10:03 18:04:05.120000-03:30"
    shape = said("exiftool", "-s3", "-n", "-Orientation", "-ColorSpace", "-ExifImageWidth", "-ExifImageHeight", jpeg)
    assert shape.split() == ["1", "1", "48", "32"]
    assert said("exiftool", "-s3", "-ProfileDescription", jpeg) == "sRGB built-in"
    assert said("exiv2", "-Pv", "-KExif.Photo.ExposureTime", jpeg) == "12853/100"
