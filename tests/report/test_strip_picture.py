"""The strip as a picture: captions whole, places true to open time, and told where it can't be made."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from tests.page.choosing import write_evening
from tests.report.test_axis import LADDER
from tether.errors import PlanError
from tether.report.choices import Choice, choose
from tether.report.choosing import Candidate
from tether.report.crops_asked import Shown
from tether.report.lettering import width_of
from tether.report.strip import Pictures
from tether.report.strip_picture import CAPTION_SIZES, captions, draw_strip, make_strip


def candidates(at: list[float], verdict: str | None = "maybe") -> list[Candidate]:
    return [
        Candidate(
            frame=number,
            ladder=1,
            rung=number,
            at_stops=stops,
            time="1/4000 s" if stops < 0 else "34:08 min",
            settings="",
            says=(),
            shown=Shown(frame="", base="", gains=(1.0, 1.0, 1.0)),
            choice=Choice(verdict=verdict),  # type: ignore[arg-type]
        )
        for number, stops in enumerate(at, start=10)
    ]


def flat(shade: int, size: tuple[int, int]) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", size, (shade, shade, shade)).save(file, "JPEG", quality=95)
    return file.getvalue()


def strip(at: list[float]) -> Image.Image:
    """Draw a strip whose pictures are flat and white."""
    frames = candidates(at)

    def made(size: tuple[int, int]) -> Pictures:
        return Pictures(jpegs={one.frame: flat(255, size) for one in frames}, words="the water, 1:2")

    return draw_strip("A ladder with a title", frames, made, simulated=True)


def blocks(picture: Image.Image) -> list[tuple[int, int]]:
    """Return where white pictures begin and end from left to right, in the row that has most of them."""
    white = np.asarray(picture.convert("L")) > 250
    row = white[white.sum(axis=1).argmax()]
    edges = np.flatnonzero(np.diff(np.concatenate([[False], row, [False]]).astype(int)))
    return [(int(left), int(right)) for left, right in edges.reshape(-1, 2) if right - left > 50]


def test_pictures_stand_at_true_spacing_all_as_wide() -> None:
    found = blocks(strip([0.0, 1.0, 3.0, 4.0]))
    assert len(found) == 4
    assert len({right - left for left, right in found}) == 1
    lefts = [left for left, _ in found]
    one = lefts[1] - lefts[0]
    assert lefts[2] - lefts[1] == pytest.approx(2 * one, abs=2)
    assert lefts[3] - lefts[2] == pytest.approx(one, abs=2)


@pytest.mark.parametrize(
    "at", [LADDER, [0.0], [0.0, 4.0], [n / 3 for n in range(40)]], ids=["long", "one", "two", "thirds"]
)
def test_captions_are_whole_and_the_picture_is_no_larger_than_can_be_shown(at: list[float]) -> None:
    picture = strip(at)
    assert 600 <= picture.width <= 2000
    assert picture.height <= 4000
    draw = ImageDraw.Draw(picture)
    widest = max(right - left for left, right in blocks(picture))
    for one in candidates(at):
        for line, size in zip(captions(one), CAPTION_SIZES, strict=True):
            assert width_of(draw, line, size) <= widest


def test_a_caption_says_time_rung_and_choice() -> None:
    kept, undecided = candidates([0.0], "keep")[0], candidates([0.0], None)[0]
    assert captions(kept) == ("34:08 min", "rung 10", "keep")
    assert captions(undecided) == ("34:08 min", "rung 10", "")


def test_a_rung_that_leaves_a_gap_is_told_above(outing: Path, tmp_path: Path) -> None:
    """More stands above the pictures than where none is missing."""
    frames = candidates([0.0, 3.0])

    def made(size: tuple[int, int]) -> Pictures:
        return Pictures(jpegs={one.frame: flat(255, size) for one in frames}, words="the water, 1:2")

    without, told = (
        draw_strip("A ladder", frames, made, said, simulated=False) for said in ("", "Rung 11 left out. " * 5)
    )
    assert told.height > without.height


def test_the_ladder_in_two_lines_fills_its_room() -> None:
    """At least three quarters of the strip's width are pictures where a stop is between two of them."""
    found = blocks(strip(LADDER))
    assert sum(right - left for left, right in found) > 0.7 * (found[-1][1] - found[0][0])


@pytest.fixture(scope="module")
def outing(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = write_evening(tmp_path_factory.mktemp("outing") / "weir")
    choose(folder, 5, Choice(verdict="keep"))
    return folder


@pytest.mark.parametrize("ending", ["png", "jpg"])
def test_it_is_made_of_an_outing_in_the_format_of_its_ending(outing: Path, tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"strip.{ending}"
    make_strip(outing, 1, path)
    with Image.open(path) as picture:
        assert picture.format == {"png": "PNG", "jpg": "JPEG"}[ending]
        assert picture.width > 1000
        grey = np.asarray(picture.convert("L"), dtype=float)
    assert grey.std() > 10  # there are pictures in it


def test_a_frame_that_cannot_be_read_leaves_its_place_empty_and_says_so(outing: Path, tmp_path: Path) -> None:
    frames = candidates([0.0, 1.0])
    made = Pictures(jpegs={frames[0].frame: flat(255, (640, 640))}, words="the middle, 1:1")
    picture = draw_strip("x", frames, lambda _: made, simulated=False)
    assert len(blocks(picture)) == 1
    assert picture.size == draw_strip("x", frames, lambda _: replace(made), simulated=False).size


def test_what_cannot_be_made_is_told(outing: Path, tmp_path: Path) -> None:
    with pytest.raises(PlanError, match=r"a strip is written as \.jpg or \.png"):
        make_strip(outing, 1, tmp_path / "strip.html")
    with pytest.raises(PlanError, match="there is no ladder 7 in this outing; there are: 1"):
        make_strip(outing, 7, tmp_path / "strip.png")
    with pytest.raises(PlanError, match="no frame of these rungs that could be shown"):
        make_strip(outing, 1, tmp_path / "strip.png", rungs=[99])
    assert not (tmp_path / "strip.png").exists()


def test_without_raw_frames_there_is_no_strip(tmp_path: Path) -> None:
    folder = write_evening(tmp_path / "weir")
    for file in (folder / "frames").iterdir():
        file.unlink()
    with pytest.raises(PlanError, match="none of its raw frames is there to be shown"):
        make_strip(folder, 1, tmp_path / "strip.png")
