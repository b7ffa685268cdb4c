"""Frames as small squares: their means above black, which of them can be used, and which stand still."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from tether.files.raw import RawFrame
from tether.frames.cells import Cells, cells, log_levels, middle, side_px, still_cells

BLACK, WHITE = 512, 16383
RANGE = WHITE - BLACK


def frame(level: NDArray[np.float64]) -> RawFrame:
    """Return a frame whose squares of 16 by 16 pixels have these levels above black."""
    mosaic = np.kron(level, np.ones((16, 16))) + BLACK
    return RawFrame(mosaic=mosaic.astype(np.uint16), pattern="RGGB", black=(float(BLACK),) * 4, white=WHITE)


def made(levels: NDArray[np.float64], usable: NDArray[np.bool_] | None = None) -> Cells:
    every = np.ones(levels.shape, dtype=bool) if usable is None else usable
    return Cells(levels={"R": levels, "G": levels, "B": levels}, usable=every)


@pytest.mark.parametrize(
    ("shape", "side"),
    # 48 along the shorter side of a plane, and never smaller than 8.
    [((200, 300), 8), ((768, 1200), 8), ((960, 640), 8), ((4000, 6000), 41), ((6000, 4000), 41)],
)
def test_a_cell_is_a_share_of_the_picture_and_never_too_small_for_noise(shape: tuple[int, int], side: int) -> None:
    assert side_px(shape) == side


def test_a_cell_is_the_mean_above_black_of_each_channel() -> None:
    levels = np.array([[1000.0, 2000.0], [3000.0, 4000.0]])
    found = cells(frame(levels))
    for channel in ("R", "G", "B"):
        np.testing.assert_allclose(found.levels[channel], levels)
    assert found.usable.all()


def test_rows_and_columns_that_fill_no_cell_are_left_out() -> None:
    whole = frame(np.full((3, 3), 1000.0))
    cut = RawFrame(mosaic=whole.mosaic[:40, :46], pattern="RGGB", black=whole.black, white=WHITE)
    assert cells(cut).levels["G"].shape == (2, 2)


def test_a_cell_is_used_where_the_sensor_is_linear() -> None:
    # Nine tenths of clipping and a 512th of it bound what is used.
    levels = np.array([[0.0, RANGE / 512 - 1, RANGE / 512 + 1], [0.89 * RANGE, 0.91 * RANGE, RANGE]])
    assert cells(frame(levels)).usable.tolist() == [[False, False, True], [True, False, False]]


def test_one_bright_pixel_takes_its_cell_out() -> None:
    picture = frame(np.full((2, 2), 1000.0))
    picture.mosaic[20, 3] = WHITE
    assert cells(picture).usable.tolist() == [[True, True], [False, True]]


def test_levels_are_told_in_stops_of_the_chosen_cells_only() -> None:
    chosen = np.array([[True, False], [True, True]])
    logs = log_levels([made(np.array([[1.0, 9.0], [2.0, 4.0]])), made(np.array([[8.0, 9.0], [8.0, 8.0]]))], "G", chosen)
    assert logs.tolist() == [[0, 1, 2], [3, 3, 3]]


# What stands still


def moving(quiet: int, cells_in_all: int = 60, seed: int = 1) -> list[Cells]:
    """Return four frames in changing light, of which the first cells change by no more than the light."""
    rng = np.random.default_rng(seed)
    restless = np.where(np.arange(cells_in_all) < quiet, 0.001, 0.3)
    return [made((2000.0 / 2**turn * 2 ** rng.normal(0, restless))[None]) for turn in range(4)]


ALIKE = np.ones(4, dtype=bool)


def test_the_quietest_third_stands_still_whatever_the_light_does() -> None:
    chosen = still_cells(moving(20), ALIKE)
    assert chosen[0].tolist() == [True] * 20 + [False] * 40


def test_never_fewer_than_a_dozen() -> None:
    assert still_cells(moving(12, 15), ALIKE).sum() == 12


def test_frames_that_do_not_show_the_same_tell_nothing_of_what_moves() -> None:
    frames = moving(20)
    other = made(np.array(frames[3].levels["G"]) * np.where(np.arange(60) < 20, np.linspace(0.1, 9, 60), 1.0))
    alike = np.array([True, True, True, False])
    assert still_cells([*frames[:3], other], alike)[0].tolist() == [True] * 20 + [False] * 40


def test_only_what_is_usable_in_all_frames_is_chosen() -> None:
    frames = moving(40)
    usable = np.ones((1, 60), dtype=bool)
    usable[0, :10] = False
    frames[2] = made(np.array(frames[2].levels["G"]), usable)
    chosen = still_cells(frames, ALIKE)
    assert not chosen[0, :10].any()
    assert chosen.sum() == round(50 / 3)
    few = np.zeros((1, 60), dtype=bool)
    few[0, 20:31] = True
    frames[1] = made(np.array(frames[1].levels["G"]), few)
    with pytest.raises(ValueError, match="too little of the picture is bright enough and yet not clipped"):
        still_cells(frames, ALIKE)


def test_the_middle_half_votes() -> None:
    values = np.array([[0.0, 0.0, 1.0, 2.0, 3.0, 4.0, 900.0, 900.0], [5.0] * 8])
    assert middle(values).tolist() == [2.5, 5.0]
