"""Whether a frame that was brought home is whole, to its last pixel."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from tests.files.conftest import Written
from tether.files.check import check_frame
from tether.files.errors import UnreadableFileError
from tether.files.raw import read_raw


def test_one_pixel_that_was_changed_on_the_way_is_noticed(written: Written) -> None:
    """The digest is DNG's RawImageDigest; ExifTool and the DNG specification 1.7.1.0 name the tag."""
    garbled = bytearray(written.path.read_bytes())
    garbled[-101] ^= 0xFF
    written.path.write_bytes(bytes(garbled))
    with pytest.raises(UnreadableFileError, match="not the one that was written"):
        check_frame(written.path)


def test_a_jpeg_is_no_raw_file_but_can_be_whole(written: Written, tmp_path: Path) -> None:
    path = tmp_path / "picture.jpg"
    Image.fromarray(written.preview).save(path)
    check_frame(path)
    with pytest.raises(UnreadableFileError, match="not a raw file"):
        read_raw(path)
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(UnreadableFileError, match="cut short"):
        check_frame(path)


def test_a_jpeg_is_known_by_its_first_bytes_not_by_its_name(written: Written, tmp_path: Path) -> None:
    path = tmp_path / "picture.dng"
    Image.fromarray(written.preview).save(path, "JPEG")
    check_frame(path)
    raw = written.path.rename(tmp_path / "raw.jpg")
    check_frame(raw)
