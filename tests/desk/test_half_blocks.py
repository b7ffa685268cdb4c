"""A picture in the terminal, two pixels a cell: where it stands in its room, and which place a cell shows."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from textual.geometry import Size

from tests.desk.alone import Alone
from tether.desk.half_blocks import Cut, HalfBlocks, picture_in
from tether.desk.pictures import Picture
from tether.editor.messages import DraftRegion


class Blocks(Alone, HalfBlocks):  # type: ignore[override]
    """A widget of a given size, under a given theme, without a desk."""

    def __init__(self, columns: int, rows: int, theme: str = "plain") -> None:
        super().__init__()
        self.given, self.theme = Size(columns, rows), theme


def halves(above: int, below: int, width: int = 40, height: int = 20) -> Picture:
    """Return a picture of one grey above and another below."""
    picture = np.full((height, width, 3), above, dtype=np.uint8)
    picture[height // 2 :] = below
    return picture


def cells(blocks: Blocks, row: int) -> list[tuple[int, int]]:
    """Return the red of the upper and the lower half of each cell of a line that shows something."""
    found = []
    for segment in blocks.render_line(row):
        style = segment.style
        if segment.text == "▀" and style and style.color and style.bgcolor:
            upper, lower = style.color.triplet, style.bgcolor.triplet
            assert upper is not None
            assert lower is not None
            found.append((upper.red, lower.red))
    return found


def test_a_picture_stands_in_the_middle_of_its_room() -> None:
    blocks = Blocks(60, 20)
    blocks.show(halves(200, 40))
    shown = [len(cells(blocks, row)) for row in range(20)]
    # Twice as wide as high, two pixels a cell: 60 columns take 15 lines of cells.
    assert shown == [0] * 2 + [60] * 15 + [0] * 3
    assert cells(blocks, 2)[30] == (200, 200)
    assert cells(blocks, 16)[30] == (40, 40)
    assert all(blocks.render_line(row).cell_length == 60 for row in range(20))


def test_a_cell_is_two_pixels_one_above_the_other() -> None:
    blocks = Blocks(4, 1)
    blocks.show(halves(200, 40, width=4, height=2))
    assert cells(blocks, 0) == [(200, 40)] * 4


def test_nothing_is_shown_where_there_is_no_picture_or_no_room() -> None:
    blocks = Blocks(10, 4)
    assert cells(blocks, 1) == []
    blocks.show(halves(200, 40))
    assert cells(blocks, 1)
    blocks.show(None)
    assert cells(blocks, 1) == []
    assert blocks.place_of(5, 2) is None


@pytest.mark.parametrize(
    ("column", "row", "place"),
    [
        (30, 9, (30.5 / 60, 7.5 / 15)),
        (0, 2, (0.5 / 60, 0.5 / 15)),
        (59, 16, (59.5 / 60, 14.5 / 15)),
        (30, 1, None),
        (30, 17, None),
    ],
)
def test_a_cell_shows_a_place_of_the_picture_or_lies_beside_it(
    column: int, row: int, place: tuple[float, float] | None
) -> None:
    blocks = Blocks(60, 20)
    blocks.show(halves(200, 40))
    found = blocks.place_of(column, row)
    assert found == (None if place is None else pytest.approx(place))


def test_a_rectangle_is_drawn_over_it_and_goes_with_the_next_picture() -> None:
    blocks = Blocks(60, 20)
    blocks.show(halves(100, 100), [DraftRegion(what="water", box=(0.25, 0.25, 0.75, 0.75))])
    drawn = {one for row in range(20) for one in cells(blocks, row)}
    assert len(drawn) > 1
    blocks.show(halves(100, 100))
    assert {one for row in range(20) for one in cells(blocks, row)} == {(100, 100)}


def test_in_ember_it_is_red_only() -> None:
    blocks = Blocks(60, 20, "ember")
    blocks.show(halves(100, 100))
    (segment, *_) = [one for one in blocks.render_line(9) if one.text == "▀"]
    assert segment.style is not None
    assert segment.style.color is not None
    triplet = segment.style.color.triplet
    assert triplet is not None
    assert triplet.blue == 0
    assert triplet.green * 8 <= triplet.red


def test_a_file_is_opened_where_it_is_there_and_a_picture(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    Image.fromarray(halves(200, 40)).save(path)
    found = picture_in(path)
    assert found is not None
    assert found.shape == (20, 40, 3)
    (tmp_path / "torn.png").write_bytes(b"torn")
    assert [picture_in(one) for one in (None, tmp_path, tmp_path / "gone", tmp_path / "torn.png")] == [None] * 4


def filled(blocks: Blocks) -> int:
    """Return how many cells show something."""
    return sum(len(cells(blocks, row)) for row in range(blocks.size.height))


@pytest.mark.parametrize(
    ("columns", "rows", "whole"),
    [(59, 28, 59 * 20), (39, 11, 33 * 11), (79, 38, 79 * 26)],
    ids=["120x40", "80x24", "160x50"],
)
def test_a_picture_that_is_cut_fills_its_room_where_a_whole_one_does_not(columns: int, rows: int, whole: int) -> None:
    """A whole 3:2 picture in half of a desk: 59 columns wide it is 39 dots high, which are 20 lines of 28."""
    blocks = Blocks(columns, rows)
    blocks.show(np.full((400, 600, 3), 90, dtype=np.uint8))
    assert filled(blocks) == whole
    blocks.show(np.full((400, 600, 3), 90, dtype=np.uint8), cut=Cut(fill=True))
    assert filled(blocks) == columns * rows


def test_a_cut_picture_is_not_stretched() -> None:
    """A white square of 100 px in the middle of 600 by 400 is as wide as it is high, in dots."""
    picture = np.full((400, 600, 3), 0, dtype=np.uint8)
    picture[150:250, 250:350] = 255
    blocks = Blocks(59, 28)
    blocks.show(picture, cut=Cut(fill=True))
    lit = [list(cells(blocks, row)) for row in range(28)]
    across = max(sum(upper > 127 for upper, _ in row) for row in lit)
    down = max(sum((row[column][0] > 127) + (row[column][1] > 127) for row in lit) for column in range(59))
    assert across == pytest.approx(down, abs=1)
    assert across == pytest.approx(100 * 56 / 400, abs=1)  # filled by its height


@pytest.mark.parametrize("centre", [(0.5, 0.5), (0.1, 0.9), (0.8, 0.2)])
@pytest.mark.parametrize("zoom", [1, 2, 4])
def test_of_a_cut_picture_a_cell_shows_the_place_of_the_whole_one(zoom: int, centre: tuple[float, float]) -> None:
    """The picture tells its place by its brightness, from left to right."""
    picture = np.repeat(np.linspace(0, 250, 600)[None, :, None], 3, axis=2).repeat(400, axis=0).astype(np.uint8)
    blocks = Blocks(30, 28)
    blocks.show(picture, cut=Cut(zoom=zoom, centre=centre, fill=True))
    for column in (0, 12, 29):
        place = blocks.place_of(column, 14)
        assert place is not None
        assert cells(blocks, 14)[column][0] == pytest.approx(250 * place[0], abs=4)


def test_how_much_of_a_picture_is_seen_is_known() -> None:
    blocks = Blocks(60, 20)
    assert blocks.seen == (1.0, 1.0)
    blocks.show(np.full((400, 600, 3), 90, dtype=np.uint8))
    assert blocks.seen == (1.0, 1.0)
    blocks.show(np.full((400, 600, 3), 90, dtype=np.uint8), cut=Cut(fill=True))
    # 60 by 40 dots have the picture's shape; half the width leaves half of it.
    assert blocks.seen == pytest.approx((1.0, 1.0))
    narrow = Blocks(30, 20)
    narrow.show(np.full((400, 600, 3), 90, dtype=np.uint8), cut=Cut(zoom=2, fill=True))
    assert narrow.seen == pytest.approx((0.25, 0.5))
