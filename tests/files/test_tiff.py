"""Pictures of 16 bits for an editor, read back by libtiff, libexiv2 and Pillow."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Iterable
from pathlib import Path

import exiv2  # type: ignore[import-untyped]
import imagecodecs
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from tether.errors import PlanError
from tether.files.preview import srgb_profile
from tether.files.tiff import write_tiff

RNG = np.random.default_rng(1)
COLOUR = RNG.integers(0, 65536, (50, 30, 3)).astype(np.uint16)
GREY = RNG.integers(0, 65536, (50, 30)).astype(np.uint16)


def banded(picture: NDArray[np.uint16], rows: int = 16) -> Iterable[NDArray[np.uint16]]:
    return (picture[top : top + rows] for top in range(0, len(picture), rows))


@pytest.mark.parametrize("picture", [COLOUR, GREY])
def test_libtiff_reads_what_was_written_bit_by_bit(tmp_path: Path, picture: NDArray[np.uint16]) -> None:
    write_tiff(tmp_path / "a.tif", banded(picture), picture.shape)
    read = imagecodecs.tiff_decode((tmp_path / "a.tif").read_bytes())
    assert read.dtype == np.uint16
    assert (read == picture).all()
    assert [path.name for path in tmp_path.iterdir()] == ["a.tif"]


def test_profile_and_exif_are_in_it_and_the_picture_stays(tmp_path: Path) -> None:
    fields = {"Exif.Photo.ExposureTime": "1/8", "Exif.Image.Make": "Tether"}
    write_tiff(tmp_path / "a.tif", banded(COLOUR), COLOUR.shape, profile=srgb_profile(), fields=fields)
    image = exiv2.ImageFactory.open(str(tmp_path / "a.tif"))
    image.readMetadata()
    assert {key: image.exifData()[key].toString() for key in fields} == fields
    assert (imagecodecs.tiff_decode((tmp_path / "a.tif").read_bytes()) == COLOUR).all()
    write_tiff(tmp_path / "grey.tif", banded(GREY), GREY.shape, profile=srgb_profile(), fields=fields)
    with Image.open(tmp_path / "grey.tif") as seen:  # Pillow has no colour of 16 bits
        assert seen.info["icc_profile"] == srgb_profile()
        assert (np.asarray(seen) == GREY).all()


def test_an_older_one_is_replaced_and_one_that_fails_leaves_it(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    path.write_bytes(b"older")
    with pytest.raises(ValueError, match="48 rows were given for a picture of 50"):
        write_tiff(path, banded(COLOUR[:48]), COLOUR.shape)
    assert path.read_bytes() == b"older"
    write_tiff(path, banded(COLOUR), COLOUR.shape)
    assert [one.name for one in tmp_path.iterdir()] == ["a.tif"]


def test_a_folder_that_is_not_there_is_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(PlanError, match="Choose a folder that exists"):
        write_tiff(tmp_path / "none" / "a.tif", banded(GREY), GREY.shape)


@pytest.mark.prove
def test_exiftool_reads_bits_profile_and_time(tmp_path: Path) -> None:
    fields = {"Exif.Photo.ExposureTime": "1/8", "Exif.Image.Make": "Tether"}
    write_tiff(tmp_path / "a.tif", banded(COLOUR), COLOUR.shape, profile=srgb_profile(), fields=fields)
    told = subprocess.run(["/usr/bin/exiftool", "-j", "-n", str(tmp_path / "a.tif")], capture_output=True, check=True)
    (tags,) = json.loads(told.stdout)
    assert (tags["ImageWidth"], tags["ImageHeight"], tags["BitsPerSample"]) == (30, 50, "16 16 16")
    assert (tags["ExposureTime"], tags["Make"], tags["ProfileConnectionSpace"]) == (0.125, "Tether", "XYZ ")
