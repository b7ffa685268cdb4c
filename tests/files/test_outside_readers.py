"""Programs that know nothing of ours read a frame: ExifTool and Exiv2 at the command line, as packaged by Debian."""

from __future__ import annotations

import json
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.files.conftest import SENSOR, SHOT, Written
from tether.files.dng import write_dng
from tether.files.preview import save_preview
from tether.files.sidecar import Fields, Unordered, Words, write_sidecar

OTHERS = Path(__file__).parents[1] / "data" / "sidecar_of_another.xmp"
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


FIELDS: Fields = {
    "Xmp.xmp.Rating": "5",
    "Xmp.dc.description": Words('Grün <& "weir"'),
    "Xmp.dc.subject": Unordered(("rung 5", "Grau <10> & Söhne")),
    "Xmp.exif.ExposureTime": "252501/2500",
    "Xmp.tether.OpenTime": "101.0004",
}


def shown_by_exiftool(path: Path) -> dict[str, Any]:
    """All that ExifTool reads of a file's XMP, with structures and languages."""
    (found,) = json.loads(said("exiftool", "-j", "-struct", "-n", "-G1", "-a", "-XMP:all", path))
    return {key: value for key, value in found.items() if key != "SourceFile"}


def test_exiftool_and_exiv2_read_a_new_sidecar_as_it_was_meant(tmp_path: Path) -> None:
    sidecar = tmp_path / "weir.xmp"
    write_sidecar(sidecar, FIELDS)
    assert said("exiftool", "-validate", "-warning", "-error", "-a", "-s3", sidecar) == "OK"
    shown = shown_by_exiftool(sidecar)
    assert shown.pop("XMP-tether:Wrote")
    assert shown == {
        "XMP-xmp:Rating": 5,
        "XMP-dc:Description": 'Grün <& "weir"',
        "XMP-dc:Subject": ["rung 5", "Grau <10> & Söhne"],
        "XMP-exif:ExposureTime": 101.0004,
        "XMP-tether:OpenTime": 101.0004,
    }
    lines = said("exiv2", "-PXkv", sidecar).splitlines()
    values = {key: value.strip() for key, _, value in (line.partition(" ") for line in lines)}
    assert values["Xmp.xmp.Rating"] == "5"
    assert values["Xmp.dc.description"] == 'lang="x-default" Grün <& "weir"'
    assert values["Xmp.dc.subject"] == "rung 5, Grau <10> & Söhne"
    assert values["Xmp.exif.ExposureTime"] == "252501/2500"


def test_exiftool_and_exiv2_read_what_is_of_another_as_before(tmp_path: Path) -> None:
    sidecar = tmp_path / "weir.xmp"
    shutil.copyfile(OTHERS, sidecar)
    before, lines = shown_by_exiftool(sidecar), said("exiv2", "-PXkv", sidecar).splitlines()
    write_sidecar(sidecar, FIELDS)
    after, lines_after = shown_by_exiftool(sidecar), said("exiv2", "-PXkv", sidecar).splitlines()
    assert after["XMP-dc:Subject"] == ["water", "rock & roll", "rung 5", "Grau <10> & Söhne"]
    assert len(before) > 15
    assert {key: after.get(key) for key in before if key != "XMP-dc:Subject"} == {
        key: value for key, value in before.items() if key != "XMP-dc:Subject"
    }
    assert [line for line in lines if not line.startswith("Xmp.dc.subject ")] == [
        line for line in lines_after if line in lines
    ]


def test_a_sidecar_that_another_program_wrote_anew_still_has_one_of_each_field(tmp_path: Path) -> None:
    sidecar = tmp_path / "weir.xmp"
    write_sidecar(sidecar, FIELDS)
    said("exiftool", "-q", "-overwrite_original", "-XMP-dc:Creator=Ann", "-XMP-xmp:Label=Grün", sidecar)
    assert write_sidecar(sidecar, {**FIELDS, "Xmp.xmp.Rating": "-1"}).stayed == ()
    shown = shown_by_exiftool(sidecar)
    assert (shown["XMP-dc:Creator"], shown["XMP-xmp:Label"], shown["XMP-xmp:Rating"]) == (["Ann"], "Grün", -1)
    assert sidecar.read_text().count("Rating>") + sidecar.read_text().count("Rating=") == 1
