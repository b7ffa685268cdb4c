from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image, ImageCms

from tests.files.conftest import SENSOR, SHOT, Written
from tether.files.dng import write_dng
from tether.files.errors import UnreadableFileError
from tether.files.exif import read_exif
from tether.files.preview import save_preview


def four_corners(height: int, width: int) -> np.ndarray[tuple[int, int, int], np.dtype[np.uint8]]:
    """A picture that is red at the top left and blue at the bottom right, black elsewhere."""
    picture = np.zeros((height, width, 3), np.uint8)
    picture[: height // 2, : width // 2, 0] = 255
    picture[height // 2 :, width // 2 :, 2] = 255
    return picture


@pytest.fixture
def frame(written: Written) -> Path:
    write_dng(written.path, written.raw, shot=SHOT, sensor=SENSOR, preview=four_corners(200, 300))
    return written.path


@pytest.mark.parametrize(("longest_px", "size"), [(1200, (300, 200)), (150, (150, 100))])
def test_the_longer_side_is_kept_within_bounds(frame: Path, longest_px: int, size: tuple[int, int]) -> None:
    jpeg = frame.with_suffix(".jpg")
    save_preview(frame, jpeg, longest_px=longest_px)
    with Image.open(jpeg) as picture:
        assert (picture.format, picture.size) == ("JPEG", size)


@pytest.mark.parametrize(
    ("orientation", "red_at", "blue_at"),
    [  # TIFF 6.0, Orientation: where the stored first row and column are seen
        (1, (0.25, 0.25), (0.75, 0.75)),
        (3, (0.75, 0.75), (0.25, 0.25)),
        (6, (0.75, 0.25), (0.25, 0.75)),
        (8, (0.25, 0.75), (0.75, 0.25)),
    ],
)
def test_it_is_turned_upright(
    frame: Path, orientation: int, red_at: tuple[float, float], blue_at: tuple[float, float]
) -> None:
    with tifffile.TiffFile(frame, mode="r+") as tiff:
        tiff.pages.first.tags["Orientation"].overwrite(orientation)
    jpeg = frame.with_suffix(".jpg")
    save_preview(frame, jpeg)
    with Image.open(jpeg) as picture:
        seen = np.asarray(picture).astype(int)
    height, width = seen.shape[:2]
    for channel, (across, down) in ((0, red_at), (2, blue_at)):
        pixel = seen[int(down * height), int(across * width)]
        assert pixel[channel] > 200
        assert pixel.sum() - pixel[channel] < 60


@pytest.mark.parametrize(("photometric", "size"), [(32803, (96, 64)), (34892, (192, 128))])
def test_without_an_embedded_picture_one_is_developed(
    written: Written, photometric: int, size: tuple[int, int]
) -> None:
    """From a mosaic (32803), and from a sensor without colours (LinearRaw of one channel, 34892, DNG 1.7.1.0)."""
    path, jpeg = written.path.with_name("bare.dng"), written.path.with_name("bare.jpg")
    tags = [(33421, 3, 2, (2, 2), True), (33422, 1, 4, bytes((0, 1, 1, 2)), True), (50706, 1, 4, b"\1\4\0\0", True)]
    tifffile.imwrite(path, written.raw, photometric="cfa", metadata=None, extratags=tags)
    with tifffile.TiffFile(path, mode="r+") as tiff:
        tiff.pages.first.tags["PhotometricInterpretation"].overwrite(photometric)
    save_preview(path, jpeg)
    with Image.open(jpeg) as picture:
        assert (picture.mode, picture.size) == ("RGB", size)


def test_it_has_the_exif_of_its_frame_turned_upright(frame: Path) -> None:
    jpeg = frame.with_suffix(".jpg")
    with tifffile.TiffFile(frame, mode="r+") as tiff:
        tiff.pages.first.tags["Orientation"].overwrite(6)
    save_preview(frame, jpeg)
    assert read_exif(jpeg) == read_exif(frame)
    with Image.open(jpeg) as picture:
        assert picture.size == (200, 300)
        assert picture.getexif()[0x0112] == 1, "an orientation beside 1 would turn it once more"


def test_it_has_the_profile_of_srgb(frame: Path) -> None:
    jpeg = frame.with_suffix(".jpg")
    save_preview(frame, jpeg)
    with Image.open(jpeg) as picture:
        profile = ImageCms.ImageCmsProfile(io.BytesIO(picture.info["icc_profile"])).profile
        grey = Image.linear_gradient("L").convert("RGB")
        same = ImageCms.profileToProfile(grey, profile, ImageCms.createProfile("sRGB"))
    assert profile.xcolor_space.strip() == "RGB"
    assert np.asarray(same).tolist() == np.asarray(grey).tolist()


def test_a_frame_whose_exif_can_not_be_copied_has_a_preview(frame: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuses(*_: object) -> bytes:
        raise UnreadableFileError("No.")

    monkeypatch.setattr("tether.files.preview.copied_exif", refuses)
    save_preview(frame, frame.with_suffix(".jpg"))
    with Image.open(frame.with_suffix(".jpg")) as picture:
        assert picture.size == (300, 200)
