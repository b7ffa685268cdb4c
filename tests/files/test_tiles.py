"""A frame in tiles: any part of it is there as it was, within what a JPEG keeps."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tether.files.errors import UnreadableFileError
from tether.files.tiles import SMALLER, TILE_PX, about, part, whole, write_tiles

HEIGHT, WIDTH = TILE_PX + 100, TILE_PX + 200


@pytest.fixture(scope="module")
def picture() -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    down, across = np.mgrid[0:HEIGHT, 0:WIDTH]
    return np.stack([down * 200 // HEIGHT, across * 200 // WIDTH, 0 * down + 90], axis=-1).astype(np.uint8)


@pytest.fixture(scope="module")
def path(picture: np.ndarray[tuple[int, ...], np.dtype[np.uint8]], tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("tiles") / "new" / "one.zip"
    write_tiles(path, (picture[top : top + TILE_PX] for top in range(0, HEIGHT, TILE_PX)), "plain")
    return path


def test_it_says_how_large_it_is_and_how_it_is_shown(path: Path) -> None:
    found = about(path)
    assert found is not None
    assert (found.width, found.height, found.look) == (WIDTH, HEIGHT, "plain")


@pytest.mark.parametrize(
    ("left", "top", "right", "bottom"),
    [(0, 0, 40, 30), (TILE_PX - 20, TILE_PX - 10, TILE_PX + 30, TILE_PX + 60), (WIDTH - 9, 0, WIDTH, HEIGHT)],
)
def test_a_part_is_what_stands_there_also_across_tiles(
    picture: np.ndarray[tuple[int, ...], np.dtype[np.uint8]], path: Path, left: int, top: int, right: int, bottom: int
) -> None:
    found = part(path, left, top, right, bottom)
    assert found.shape == (bottom - top, right - left, 3)
    assert np.abs(found.astype(int) - picture[top:bottom, left:right]).max() <= 6


def test_the_whole_is_smaller(picture: np.ndarray[tuple[int, ...], np.dtype[np.uint8]], path: Path) -> None:
    found = whole(path)
    assert found.shape == (HEIGHT // SMALLER, WIDTH // SMALLER, 3)
    assert np.abs(found.astype(int) - picture[1::SMALLER, 1::SMALLER][: found.shape[0], : found.shape[1]]).max() <= 6


def test_what_is_no_file_of_tiles_says_nothing_of_itself(tmp_path: Path) -> None:
    assert about(tmp_path / "none.zip") is None
    (tmp_path / "cut.zip").write_bytes(b"PK nonsense")
    assert about(tmp_path / "cut.zip") is None
    with pytest.raises(UnreadableFileError, match="made again once it is removed"):
        part(tmp_path / "cut.zip", 0, 0, 8, 8)
