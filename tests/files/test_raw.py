from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.files.conftest import SENSOR, SHOT, Written
from tests.files.previews import read_preview
from tether.files.check import check_frame
from tether.files.dng import write_dng
from tether.files.errors import UnreadableFileError
from tether.files.preview import save_preview
from tether.files.raw import read_raw

READERS: list[Callable[[Path], object]] = [
    read_raw,
    read_preview,
    check_frame,
    lambda path: save_preview(path, path.with_suffix(".jpg")),
]


def test_a_raw_frame_is_read_whole(written: Written) -> None:
    frame = read_raw(written.path)
    assert np.array_equal(frame.mosaic, written.raw)
    assert (frame.pattern, frame.black, frame.white) == ("RGGB", (512.0,) * 4, 16383)
    check_frame(written.path)


def test_pattern_and_levels_of_another_sensor(written: Written, tmp_path: Path) -> None:
    path = tmp_path / "other.dng"
    sensor = replace(SENSOR, cfa="GBRG", black=64, white=4095)
    write_dng(path, written.raw, shot=SHOT, sensor=sensor, preview=written.preview)
    frame = read_raw(path)
    assert (frame.pattern, frame.black, frame.white) == ("GBRG", (64.0,) * 4, 4095)


def test_the_embedded_preview(written: Written) -> None:
    assert np.array_equal(read_preview(written.path), written.preview)


@pytest.mark.parametrize("read", READERS)
@pytest.mark.parametrize("share", [0.0, 0.00005, 0.001, 0.005, 0.01, 0.05, 0.1, 0.3, 0.5, 0.9, 0.999])
def test_cut_short_anywhere_is_a_sentence(written: Written, read: Callable[[Path], object], share: float) -> None:
    whole = written.path.read_bytes()
    written.path.write_bytes(whole[: int(share * len(whole))])
    with pytest.raises(UnreadableFileError, match=r"weir\.dng"):
        read(written.path)


@pytest.mark.parametrize("read", READERS)
@pytest.mark.parametrize(
    "content", [b"", b"\0" * 5000, b"no picture at all " * 500, b"II*\0\x08\0\0\0" + b"\xff" * 500]
)
def test_garbage_is_a_sentence(tmp_path: Path, read: Callable[[Path], object], content: bytes) -> None:
    path = tmp_path / "bad.dng"
    path.write_bytes(content)
    with pytest.raises(UnreadableFileError, match=r"bad\.dng"):
        read(path)


@pytest.mark.parametrize("read", READERS)
def test_a_missing_file_is_a_sentence(tmp_path: Path, read: Callable[[Path], object]) -> None:
    with pytest.raises(UnreadableFileError, match=r"gone\.dng.*no such file"):
        read(tmp_path / "gone.dng")


@pytest.mark.parametrize("read", [read_raw, check_frame])
def test_nothing_but_zeros_is_a_sentence(written: Written, tmp_path: Path, read: Callable[[Path], object]) -> None:
    path = tmp_path / "zero.dng"
    write_dng(path, np.zeros_like(written.raw), shot=SHOT, sensor=SENSOR, preview=written.preview)
    with pytest.raises(UnreadableFileError, match=r"zero\.dng opens, but .* zeros"):
        read(path)


@pytest.mark.parametrize("read", [read_raw, check_frame])
def test_rows_that_are_missing_are_a_sentence(written: Written, tmp_path: Path, read: Callable[[Path], object]) -> None:
    """One of 128 rows may be empty, at a border."""
    path = tmp_path / "rows.dng"
    raw = written.raw.copy()
    raw[-1] = 0
    write_dng(path, raw, shot=SHOT, sensor=SENSOR, preview=written.preview)
    read(path)
    raw[-64:] = 0
    write_dng(path, raw, shot=SHOT, sensor=SENSOR, preview=written.preview)
    with pytest.raises(UnreadableFileError, match=r"rows\.dng .* 50% of its rows hold nothing but zeros"):
        read(path)


@pytest.mark.parametrize("read", READERS)
def test_a_folder_is_a_sentence(tmp_path: Path, read: Callable[[Path], object]) -> None:
    with pytest.raises(UnreadableFileError, match=r"can't be read \(is a directory\)"):
        read(tmp_path)


def test_a_frame_of_nothing_but_zeros_says_that_the_cap_may_be_on(written: Written, tmp_path: Path) -> None:
    path = tmp_path / "capped.dng"
    sensor = replace(SENSOR, black=0)
    write_dng(path, np.zeros_like(written.raw), shot=SHOT, sensor=sensor, preview=written.preview)
    with pytest.raises(UnreadableFileError, match="the cap is on"):
        read_raw(path)
