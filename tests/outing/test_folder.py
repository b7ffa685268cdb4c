"""The outing's folder: where it may be."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tether.errors import PlanError
from tether.files.state import state_folder
from tether.outing.folder import keep_who_knows, open_folder, passing_folder


def test_a_folder_whose_name_is_no_utf_8_is_refused_before_it_is_made(tmp_path: Path) -> None:
    """Frames in it could not be opened by the libraries that read them."""
    folder = tmp_path / os.fsdecode(b"out\xff")
    with pytest.raises(PlanError, match="not UTF-8"):
        open_folder(folder, "Weir")
    assert not folder.exists()


def test_of_a_folder_that_goes_the_last_words_of_a_camera_process_stay() -> None:
    with passing_folder("frames") as folder:
        assert folder.words == state_folder() / "camera.log"
        assert folder.path not in folder.words.parents
    assert not folder.path.exists()


def test_who_knows_is_kept_in_the_folder_where_anything_was_said(tmp_path: Path) -> None:
    keep_who_knows(tmp_path, "  ")
    assert not (tmp_path / "who-knows.txt").exists()
    keep_who_knows(tmp_path, " Anna, until 22:00 ")
    assert (tmp_path / "who-knows.txt").read_text() == "Anna, until 22:00\n"
