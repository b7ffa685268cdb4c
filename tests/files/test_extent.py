"""Whether a file has all the bytes that its own directories speak of."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import tifffile

from tests.files.conftest import Written
from tests.files.test_raw import READERS
from tether.files.errors import UnreadableFileError
from tether.files.extent import check_extent


@pytest.mark.parametrize("read", READERS)
def test_one_byte_missing_is_told_with_its_number(written: Written, read: Callable[[Path], object]) -> None:
    whole = written.path.read_bytes()
    written.path.write_bytes(whole[:-1])
    with pytest.raises(UnreadableFileError, match=f"{len(whole) - 1} bytes are there, at least {len(whole)}"):
        read(written.path)


def pictures(path: Path, *, below: int = 0) -> int:
    """Write a TIFF with two pictures, the second under the first or beside it, and return its size [bytes]."""
    with tifffile.TiffWriter(path) as tiff:
        tiff.write(np.zeros((8, 8), dtype=np.uint8), subifds=below or None)
        tiff.write(np.ones((16, 16), dtype=np.uint8))
    return path.stat().st_size


@pytest.mark.parametrize("below", [0, 1])
def test_every_picture_counts_also_those_below_others(tmp_path: Path, below: int) -> None:
    path = tmp_path / "two.tif"
    size = pictures(path, below=below)
    check_extent(path)
    path.write_bytes(path.read_bytes()[:-1])
    with pytest.raises(UnreadableFileError, match=f"two.tif is cut short: {size - 1} bytes are there, at least {size}"):
        check_extent(path)


@pytest.mark.parametrize("content", [b"", b"no TIFF at all", b"II*\0\x08\0\0\0" + b"\xff" * 500])
def test_of_other_and_of_damaged_files_it_says_nothing(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "other"
    path.write_bytes(content)
    check_extent(path)


def test_a_file_that_is_not_there_is_an_error_of_the_system(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        check_extent(tmp_path / "gone")
