"""A picture with what is where in it: kept together, and nothing where either can't be read."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tether.files.marked import plain_beside, read_marked, write_marked

CELLS = ("ww..", "wwrr")


def test_picture_and_letters_come_back(tmp_path: Path) -> None:
    path = plain_beside(tmp_path / "ladder-1.jpg")
    assert path == tmp_path / "ladder-1-plain.jpg"
    write_marked(path, Image.new("RGB", (900, 600), (90, 90, 90)), CELLS)
    found = read_marked(path)
    assert found is not None
    assert found.cells == CELLS
    assert found.picture.shape == (320, 480, 3)
    assert np.abs(found.picture.astype(int) - 90).max() <= 2


@pytest.mark.parametrize(
    "comment", [b"", b"{", b"[]", b'{"cells": []}', b'{"cells": ["ww", "w"]}', b'{"cells": [1, 2]}']
)
def test_a_picture_without_letters_is_none(tmp_path: Path, comment: bytes) -> None:
    Image.new("RGB", (30, 20)).save(tmp_path / "x.jpg", comment=comment)
    assert read_marked(tmp_path / "x.jpg") is None


def test_what_is_no_picture_is_none(tmp_path: Path) -> None:
    (tmp_path / "torn.jpg").write_bytes(b"\xff\xd8 torn")
    assert read_marked(tmp_path / "torn.jpg") is None
    assert read_marked(tmp_path / "gone.jpg") is None
