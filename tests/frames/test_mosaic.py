"""The mosaic as its channels: where each place of the pattern lies, what is above black, and regions that are none."""

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


@pytest.mark.parametrize("edges", [(0.5, 0, 0.5, 1), (-0.1, 0, 1, 1), (0, 0, 1.1, 1), (0, 0.9, 1, 0.2)])
def test_a_region_that_is_none_is_refused(edges: tuple[float, float, float, float]) -> None:
    left, top, right, bottom = edges
    with pytest.raises(ValueError, match="0 to 1"):
        Region(kind="rock", left=left, top=top, right=right, bottom=bottom)


def test_an_odd_row_or_column_is_in_no_place() -> None:
    assert {plane.values.shape for plane in planes(frame(np.zeros((101, 203))))} == {(50, 101)}


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
