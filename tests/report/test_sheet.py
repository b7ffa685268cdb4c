"""The sheet to choose by: the right frames, in a grid that fits, readable by any viewer."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.journal.outings import (
    applied,
    frame_begun,
    frame_exposed,
    frame_fetched,
    ladder_started,
    run_started,
    weir,
    write_outing,
)
from tether.errors import PlanError
from tether.journal.records import Record
from tether.journal.telling import read_outing
from tether.report.sheet import make_sheet

SHADES = {2: 60, 3: 80, 4: 100, 5: 120, 6: 140, 8: 180, 9: 200}


def paint(folder: Path, frames: Iterable[int], size: tuple[int, int] = (60, 40)) -> None:
    """Give frames flat previews whose shade tells which frame it is."""
    (folder / "previews").mkdir(exist_ok=True)
    for frame in read_outing(folder).ladders[0].frames:
        if frame.frame in frames:
            shade = SHADES[frame.frame]
            Image.new("RGB", size, (shade, shade, 30)).save(folder / str(frame.files[0].preview), quality=95)


def shades_in(path: Path) -> set[int]:
    """Which of the flat previews can be found in a sheet: at least half a per cent of its area each."""
    pixels = np.asarray(Image.open(path).convert("RGB")).astype(int)
    flat = np.abs(pixels[..., 0] - pixels[..., 1]) < 6
    tinted = flat & (pixels[..., 2] < 50) & (pixels[..., 0] > 50)
    shares = {s: float(np.mean(tinted & (np.abs(pixels[..., 0] - s) < 6))) for s in SHADES.values()}
    return {shade for shade, share in shares.items() if share > 0.005}


@pytest.fixture
def outing(tmp_path: Path) -> Path:
    write_outing(tmp_path / "weir", weir())
    paint(tmp_path / "weir", SHADES)
    return tmp_path / "weir"


def test_each_rung_is_shown_once_by_its_last_frame(outing: Path, tmp_path: Path) -> None:
    make_sheet(outing, 1, tmp_path / "sheet.png")
    assert shades_in(tmp_path / "sheet.png") == {60, 100, 120, 140, 180, 200}


def test_chosen_rungs_only(outing: Path, tmp_path: Path) -> None:
    make_sheet(outing, 1, tmp_path / "sheet.png", rungs=[3, 6])
    assert shades_in(tmp_path / "sheet.png") == {120, 200}


def test_a_frame_without_a_preview_does_not_hide_one_with(tmp_path: Path) -> None:
    first, again = frame_begun(2, 1, applied(1.0, "1")), frame_begun(3, 1, applied(1.0, "1"))
    fetched = frame_fetched(2, 1, applied(1.0, "1"))
    records: list[Record] = [run_started(), ladder_started(), *first, frame_exposed(2, None), *fetched, *again]
    write_outing(tmp_path / "weir", records)
    paint(tmp_path / "weir", [2])
    make_sheet(tmp_path / "weir", 1, tmp_path / "sheet.png")
    assert shades_in(tmp_path / "sheet.png") == {60}


def test_a_missing_or_damaged_preview_leaves_its_place_empty(outing: Path, tmp_path: Path) -> None:
    frames = {frame.frame: frame for frame in read_outing(outing).ladders[0].frames}
    (outing / str(frames[5].files[0].preview)).unlink()
    (outing / str(frames[6].files[0].preview)).write_bytes(b"\xff\xd8 cut off")
    make_sheet(outing, 1, tmp_path / "sheet.png")
    assert shades_in(tmp_path / "sheet.png") == {60, 100, 180, 200}


def test_upright_pictures_keep_their_shape(outing: Path, tmp_path: Path) -> None:
    paint(outing, [9], size=(40, 60))
    make_sheet(outing, 1, tmp_path / "sheet.png", rungs=[6])
    pixels = np.asarray(Image.open(tmp_path / "sheet.png")).astype(int)
    rows, columns = np.nonzero((np.abs(pixels[..., 0] - 200) < 6) & (pixels[..., 2] < 50))
    assert np.ptp(rows) / np.ptp(columns) == pytest.approx(1.5, rel=0.02)


@pytest.mark.parametrize("name", ["sheet.jpg", "sheet.JPEG", "sheet.png"])
def test_the_ending_decides_the_format(outing: Path, tmp_path: Path, name: str) -> None:
    make_sheet(outing, 1, tmp_path / name, rungs=[1])
    with Image.open(tmp_path / name) as sheet:
        assert sheet.format == ("PNG" if name.endswith("png") else "JPEG")


def test_a_simulated_sheet_is_marked(tmp_path: Path) -> None:
    for name, simulated in (("a", True), ("b", False)):
        write_outing(tmp_path / name, [replace(run_started(), simulated=simulated), *weir()[1:]])
        make_sheet(tmp_path / name, 1, tmp_path / f"{name}.png")
    marked, plain = ((np.asarray(Image.open(tmp_path / f"{name}.png"))[76:116] > 200).sum() for name in "ab")
    assert marked > 500
    assert plain == 0


def test_a_sheet_says_in_its_heading_which_rungs_were_not_taken(tmp_path: Path) -> None:
    """The line of the heading is longer by the words than where all were taken."""
    whole = weir()
    begun = [one for one in whole if (getattr(one, "frame", 0) or 0) < 9]
    for name, records in (("whole", whole), ("stopped", begun)):
        write_outing(tmp_path / name, records)
        make_sheet(tmp_path / name, 1, tmp_path / f"{name}.png")
    ends = [
        int(np.nonzero((np.asarray(Image.open(tmp_path / f"{name}.png"))[76:116] > 200).any(axis=(0, 2)))[0].max())
        for name in ("whole", "stopped")
    ]
    assert ends[1] > ends[0] + 100


@pytest.mark.parametrize(
    ("ladder", "name", "rungs", "sentence"),
    [
        (2, "sheet.png", None, "no ladder 2 in this outing; there are: 1"),
        (1, "sheet.tiff", None, r"written as \.jpg, \.png or \.html"),
        (1, "sheet.png", [77], "no frame of rung"),
    ],
)
def test_what_cannot_be_made_is_a_sentence(
    outing: Path, tmp_path: Path, ladder: int, name: str, rungs: list[int] | None, sentence: str
) -> None:
    with pytest.raises(PlanError, match=sentence):
        make_sheet(outing, ladder, tmp_path / name, rungs=rungs)
    assert not (tmp_path / name).exists()
