"""The frames of an outing with their files: which ladder, which file, and what can't be read."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.journal.outings import weir, write_outing
from tests.page.choosing import HEIGHT, WIDTH, draw
from tether.errors import PlanError
from tether.files.errors import UnreadableFileError
from tether.files.raw import read_raw
from tether.journal.telling import read_outing
from tether.outing.taken import read_frames


@pytest.fixture
def outing(tmp_path: Path) -> Path:
    for part in ("frames", "previews"):
        (tmp_path / part).mkdir()
    write_outing(tmp_path, weir())
    return tmp_path


def test_a_frame_tells_what_the_journal_does_and_gives_its_pixels(outing: Path) -> None:
    told = read_outing(outing).ladders[-1].frames
    frames = read_frames(outing)
    assert [one.frame for one in frames] == [one.frame for one in told]
    assert [one.believed_open_s for one in frames] == [one.believed_open_s for one in told]
    first = next(one for one in frames if one.path)
    assert first.path is not None
    draw(first.path, first.frame)
    raw = first.raw()
    assert raw.mosaic.shape == (HEIGHT, WIDTH)
    assert raw.mosaic.dtype == np.uint16
    assert len(raw.black) == 4
    assert raw.white == read_raw(first.path).white > max(raw.black)


def test_a_ladder_is_meant_by_its_number(outing: Path) -> None:
    assert read_frames(outing, 1) == read_frames(outing)
    with pytest.raises(PlanError, match="no such ladder"):
        read_frames(outing, 9)


def test_a_frame_whose_file_is_not_there_says_so(outing: Path, tmp_path: Path) -> None:
    away = next(one for one in read_frames(outing) if one.path)
    with pytest.raises(UnreadableFileError, match=r"SIM_0001.dng can't be read"):
        away.raw()
    nameless, *_ = read_frames(write_without_files(tmp_path / "none"))
    assert nameless.path is None
    with pytest.raises(UnreadableFileError, match="has no raw file in"):
        nameless.raw()


def write_without_files(folder: Path) -> Path:
    """Write an outing of which nothing was copied."""
    records = [record for record in weir() if not type(record).__name__.startswith("Fetch")]
    write_outing(folder, records)
    return folder
