"""The mosaic as its channels: where each place of the pattern lies, what is above black, and regions on whole cells."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from tether.files.raw import RawFrame
from tether.frames.mosaic import Region, channels, planes

BLACK = 512


def frame(mosaic: NDArray[np.float64], pattern: str = "RGGB", blacks: tuple[float, ...] = (BLACK,) * 4) -> RawFrame:
    first, second, third, fourth = blacks
    return RawFrame(mosaic=mosaic.astype(np.uint16), pattern=pattern, black=(first, second, third, fourth), white=16383)


def region(left: float, top: float, right: float, bottom: float) -> Region:
    return Region(kind="rock", left=left, top=top, right=right, bottom=bottom)


@pytest.mark.parametrize("edges", [(0.5, 0, 0.5, 1), (-0.1, 0, 1, 1), (0, 0, 1.1, 1), (0, 0.9, 1, 0.2)])
def test_a_region_that_is_none_is_refused(edges: tuple[float, float, float, float]) -> None:
    left, top, right, bottom = edges
    with pytest.raises(ValueError, match="0 to 1"):
        Region(kind="rock", left=left, top=top, right=right, bottom=bottom)


@pytest.mark.parametrize(
    ("edges", "rows", "columns"),
    [
        ((0, 0, 1, 1), (0, 100), (0, 200)),
        ((0.5, 0.5, 1, 1), (50, 100), (100, 200)),
        # 1.3 and 2.6 begin at the cell that they lie in; 50.9 and 101.8 end with the last whole one.
        ((0.013, 0.013, 0.509, 0.509), (0, 50), (2, 100)),
        ((0.513, 0.513, 0.514, 0.514), (50, 52), (102, 104)),  # never less than one cell
        ((0.999, 0.999, 1, 1), (98, 100), (198, 200)),
    ],
)
def test_a_region_lies_on_whole_cells(
    edges: tuple[float, float, float, float], rows: tuple[int, int], columns: tuple[int, int]
) -> None:
    assert region(*edges).slices((100, 200)) == (slice(*rows), slice(*columns))


def test_an_odd_row_or_column_is_in_no_region() -> None:
    assert region(0, 0, 1, 1).slices((101, 203)) == (slice(0, 100), slice(0, 202))


def test_channels_are_where_the_pattern_has_them() -> None:
    mosaic = np.arange(64, dtype=np.float64).reshape(8, 8)
    assert [plane.channel for plane in planes(frame(mosaic, "GBRG"))] == ["G", "B", "R", "G"]
    assert channels(frame(mosaic + BLACK))["G"][0, 0] == pytest.approx((1 + 8) / 2)


def test_each_place_has_its_own_black() -> None:
    mosaic = np.full((4, 4), 1000.0)
    picture = frame(mosaic, "RGGB", (500.0, 510.5, 520.5, 530.0))
    found = channels(picture)
    assert {channel: float(values[0, 0]) for channel, values in found.items()} == {
        "R": 500.0,
        "G": (489.5 + 479.5) / 2,
        "B": 470.0,
    }


def test_what_is_darker_than_black_stays_so() -> None:
    picture = frame(np.full((4, 4), 500.0))
    assert all((values == -12).all() for values in channels(picture).values())


def test_a_part_of_the_picture_is_read_alone() -> None:
    mosaic = np.full((8, 8), 512.0)
    mosaic[4:, 4:] = 700
    quarter = region(0.5, 0.5, 1, 1)
    assert [plane.values.tolist() for plane in planes(frame(mosaic), quarter)] == [[[700, 700]] * 2] * 4
