"""Two frames laid over each other: matched on the rock by hand-made numbers, and a mask that is soft at its edge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tether.files.raw import RawFrame
from tether.frames.layers import SoftMask, matched
from tether.frames.regions import COLUMNS, ROWS, Regions, given

BLACK, WHITE = 500, 16000
#: Left half water, right half rock.
HALVES = Regions(cells=("w" * (COLUMNS // 2) + "r" * (COLUMNS // 2),) * ROWS)


def frame(rock: tuple[float, float, float], water: float = 0.5) -> RawFrame:
    """Return a frame whose right half has these levels of red, green and blue, 0 black to 1 clipped."""
    mosaic = np.full((96, 144), water)
    for place, channel in enumerate("RGGB"):
        mosaic[place // 2 :: 2, 72 + place % 2 :: 2] = rock["RGB".index(channel)]
    levels = np.round(BLACK + (WHITE - BLACK) * mosaic).astype(np.uint16)
    return RawFrame(mosaic=levels, pattern="RGGB", black=(BLACK,) * 4, white=WHITE)


def test_each_colour_is_matched_on_the_rock_and_nothing_is_made_brighter() -> None:
    """Red is half as bright in the water's frame, green as bright, blue twice as bright; water counts for nothing."""
    found = matched(frame((0.1, 0.2, 0.2), water=0.9), frame((0.2, 0.2, 0.1), water=0.01), HALVES)
    assert found.brighter == pytest.approx((2.0, 1.0, 0.5), rel=1e-3)
    assert found.water == pytest.approx((1.0, 0.5, 0.25), rel=1e-3)
    assert found.rest == pytest.approx((0.5, 0.5, 0.5), rel=1e-3)


def test_where_the_water_is_the_brighter_one_the_rest_stays_as_it_is() -> None:
    found = matched(frame((0.2, 0.2, 0.2)), frame((0.1, 0.1, 0.1)), HALVES)
    assert found.water == pytest.approx((0.5, 0.5, 0.5), rel=1e-3)
    assert found.rest == (1.0, 1.0, 1.0)


def test_what_clips_in_either_is_not_matched_by() -> None:
    water, rest = frame((0.2, 0.2, 0.2)), frame((0.1, 0.1, 0.1))
    water.mosaic[:30, 72:], rest.mosaic[70:, 72:] = WHITE, WHITE
    assert matched(water, rest, HALVES).brighter == pytest.approx((0.5, 0.5, 0.5), rel=1e-3)


def test_black_and_white_are_each_channel_s_own() -> None:
    other = replace(frame((0.2, 0.2, 0.2)), black=(0.0,) * 4, whites={"R": 8000, "G": 16000, "B": 16000})
    other.mosaic[:] = 1600
    assert matched(other, frame((0.2, 0.2, 0.2)), HALVES).brighter == pytest.approx((1.0, 2.0, 2.0), rel=1e-3)


@pytest.mark.parametrize(
    ("other", "words"),
    [
        (frame((1.0, 1.0, 1.0)), "too little rock"),
        (frame((0.0, 0.2, 0.2)), "too little rock"),
        (replace(frame((0.2, 0.2, 0.2)), pattern="BGGR"), "not of one sensor"),
    ],
)
def test_what_can_not_be_matched_is_said(other: RawFrame, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        matched(frame((0.2, 0.2, 0.2)), other, HALVES)


def test_without_rock_there_is_nothing_to_match_by() -> None:
    with pytest.raises(ValueError, match="too little rock"):
        matched(frame((0.2, 0.2, 0.2)), frame((0.2, 0.2, 0.2)), given([]))


def test_the_mask_is_white_in_the_water_and_passes_over_within_a_cell() -> None:
    """Cells of 10 by 10 px: the edge is at 360 px, half way at the edge, and all through half a cell from it."""
    mask = SoftMask(HALVES, 0, COLUMNS * 10, ROWS * 10).rows(100, 140)
    assert mask.shape == (40, 720)
    assert (mask[:, :355] == 1).all()
    assert (mask[:, 365:] == 0).all()
    assert mask[0, 359:361] == pytest.approx([0.55, 0.45])
    assert (np.diff(mask[0]) <= 0).all()


@pytest.mark.parametrize(("turns", "side"), [(0, "left"), (1, "bottom"), (2, "right"), (3, "top")])
def test_it_lies_as_the_upright_picture_does(turns: int, side: str) -> None:
    """Turned to the left by a quarter, what was left is at the bottom."""
    width, height = (144, 96) if turns % 2 == 0 else (96, 144)
    mask = SoftMask(HALVES, turns, width, height).rows(0, height)
    edges = {"left": mask[:, 0], "right": mask[:, -1], "top": mask[0], "bottom": mask[-1]}
    assert {name for name, edge in edges.items() if (edge == 1).all()} == {side}


def test_what_is_neither_belongs_to_the_nearer() -> None:
    between = Regions(cells=("w" * 10 + "." * 20 + "r" * 42,) * ROWS)
    mask = SoftMask(between, 0, COLUMNS * 10, ROWS * 10).rows(0, 1)[0]
    assert mask[190] == 1
    assert mask[210] == 0
