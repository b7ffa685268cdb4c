"""The picture of the regions: lines where water is, dots where rock is, nothing over what is neither."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from tether.files.marked import plain_beside, read_marked
from tether.frames import regions_picture as module
from tether.frames.mosaic import Region
from tether.frames.regions import given
from tether.frames.regions_picture import save_regions_picture

Draw = Callable[..., NDArray[np.int_]]

#: Water to the left, rock in the middle, neither to the right.
REGIONS = given(
    [
        Region(kind="water", left=0, top=0, right=1 / 3, bottom=1),
        Region(kind="rock", left=1 / 3, top=0, right=2 / 3, bottom=1),
    ]
)
LEGEND_PX = 34
#: Three quarters of the light of the preview.
PLAIN = 90


@pytest.fixture
def drawn(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Draw:
    """Draw over an even preview of some size, turned to the left so many times, and return the picture."""

    def draw(width: int, height: int, left_turns: int = 0) -> NDArray[np.int_]:
        preview = np.full((height, width, 3), 120, dtype=np.uint8)
        monkeypatch.setattr(module, "preview_of", lambda _: (preview, left_turns))
        save_regions_picture(tmp_path / "frame.dng", REGIONS, tmp_path / "regions.jpg")
        with Image.open(tmp_path / "regions.jpg") as picture:
            return np.asarray(picture.convert("L"), dtype=int)

    return draw


def marked(part: NDArray[np.int_]) -> NDArray[np.bool_]:
    """Return where something is drawn: much lighter than the dimmed picture."""
    return np.asarray(part > 170)


def test_lines_are_over_water_dots_over_rock_and_nothing_over_the_rest(drawn: Draw) -> None:
    picture = drawn(360, 240)
    assert picture.shape == (240 + LEGEND_PX, 360)
    water, rock, neither = (picture[:240, 120 * third + 4 : 120 * third + 116] for third in range(3))
    # A stroke every nine pixels, from the top to the bottom.
    strokes = np.flatnonzero(marked(water).mean(axis=0) > 0.9)
    assert set(np.diff(strokes)) <= {9}
    assert len(strokes) in (12, 13)
    # Dots two pixels wide, nine pixels apart: some (2/9)² of what is there, and no stroke.
    assert marked(rock).mean() == pytest.approx((2 / 9) ** 2, rel=0.5)
    assert marked(rock).mean(axis=0).max() < 0.5
    assert np.abs(neither - PLAIN).max() < 25


def test_below_it_stands_what_the_marks_mean(drawn: Draw) -> None:
    legend = drawn(900, 240)[240:]
    assert (legend > 200).any()
    assert (legend < 20).mean() > 0.8


def test_a_picture_on_its_side_is_turned_with_its_regions(drawn: Draw) -> None:
    """Turned to the left, what was to the right is above, and what was to the left below."""
    picture = drawn(360, 240, 1)
    assert picture.shape == (360 + LEGEND_PX, 240)
    strokes = [float(marked(picture[120 * third + 4 : 120 * third + 116]).mean()) for third in range(3)]
    assert strokes[0] == 0
    assert strokes[2] > strokes[1] > 0


def test_a_large_preview_is_made_smaller(drawn: Draw) -> None:
    assert drawn(2880, 960).shape == (480 + LEGEND_PX, 1440)


@pytest.mark.parametrize("left_turns", [0, 1, 2, 3])
def test_beside_it_lies_the_plain_picture_with_the_letters_as_they_lie_over_it(
    drawn: Draw, tmp_path: Path, left_turns: int
) -> None:
    drawn(360, 240, left_turns)
    found = read_marked(plain_beside(tmp_path / "regions.jpg"))
    assert found is not None
    assert np.abs(found.picture.astype(int) - 120).max() <= 2  # not dimmed, nothing drawn
    high, wide = found.picture.shape[:2]
    assert (high > wide) == (left_turns % 2 == 1)
    letters = np.array([list(row) for row in found.cells])
    # Water is left, rock in the middle, neither right: turned to the left, water is below, then right, then above.
    edge = (letters[:, 0], letters[-1], letters[:, -1], letters[0])[left_turns]
    assert set(edge) == {"w"}
    assert letters[letters.shape[0] // 2, letters.shape[1] // 2] == "r"
