"""Pixels that stand alone are not light."""

from __future__ import annotations

import numpy as np
import pytest

from tests.frames.simulated import shot
from tether.body.simulated.world import SensorTruth, World
from tether.files.raw import RawFrame
from tether.frames.exposing import seen_in
from tether.frames.hot import each_less_hot, hot_pixels, less_hot
from tether.frames.levels import Histogram, histograms, levels_of
from tether.frames.mosaic import planes

WHITE = 16383


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_two_in_a_thousand_stuck_pixels_do_not_eat_the_headroom(seed: int) -> None:
    rooms = []
    for stuck in (0.0, 0.002):
        sensor = SensorTruth(window_px=(480, 320), stuck_share=stuck)
        one = shot(World(seed=seed, base_level_stops=-4.1, sensor=sensor), open_s=1 / 64)
        rooms.append(seen_in(one, 0.0).levels.headroom_stops)
        with_them = levels_of(histograms(one), WHITE).headroom_stops
    clean, less = rooms
    assert clean is not None
    assert less is not None
    assert with_them is not None
    assert less == pytest.approx(clean, abs=0.03)
    assert with_them < clean - 0.4, "what they eat where they count"


def test_nothing_of_a_picture_without_them_is_left_out() -> None:
    one = shot(World(seed=4, base_level_stops=-3.5, sensor=SensorTruth(window_px=(480, 320))), open_s=1 / 64)
    whole = histograms(one)
    for before, after in zip(whole, less_hot(whole, one), strict=True):
        assert before.counts.sum() - after.counts.sum() <= 0.0002 * before.counts.sum()


def test_only_those_within_a_mask_are_taken_from_what_was_counted_there() -> None:
    one = shot(
        World(seed=5, base_level_stops=-4.1, sensor=SensorTruth(window_px=(480, 320), stuck_share=0.005)), open_s=1 / 64
    )
    mask = np.zeros((160, 240), dtype=bool)
    mask[:80] = True
    found = seen_in(one, 0.0, mask).histograms
    assert all((each.counts >= 0).all() for each in found)
    assert sum(int(each.counts.sum()) for each in found) < 4 * mask.sum()


def drawn(shape: tuple[int, int], seed: int) -> RawFrame:
    """Return a frame of noise in which a tenth of the pixels are brighter than the rest."""
    rng = np.random.default_rng(seed)
    light = rng.integers(0, 16384, shape)
    mosaic = np.where(rng.random(shape) < 0.9, light // 16, light).astype(np.uint16)
    return RawFrame(mosaic=mosaic, pattern="RGGB", black=(5.0, 6.5, 7.0, 8.0), white=WHITE)


def alone_by_the_words(frame: RawFrame) -> list[tuple[int, int]]:
    """Return which pixels stand alone, one by one: of the brightest hundredth of their place, twice those beside."""
    parts = list(planes(frame))
    means = [float(part.values.mean()) - part.black for part in parts]
    height, width = frame.mosaic.shape

    def relative(row: int, column: int) -> float:
        row = 1 if row < 0 else height - 2 if row >= height else row
        column = 1 if column < 0 else width - 2 if column >= width else column
        place = row % 2 * 2 + column % 2
        return (float(frame.mosaic[row, column]) - parts[place].black) / means[place]

    found = []
    for row, column in np.ndindex(height // 2 * 2, width // 2 * 2):
        own = parts[row % 2 * 2 + column % 2]
        level = frame.mosaic[row, column]
        bright = (own.values > level).sum() < 0.01 * own.values.size and level >= own.black + 0.05 * (WHITE - own.black)
        beside = [(row + down, column + right) for down in (-1, 0, 1) for right in (-1, 0, 1) if down or right]
        if bright and relative(row, column) > 2 * max(relative(*one) for one in beside):
            found.append((row, column))
    return found


@pytest.mark.parametrize("shape", [(60, 80), (61, 83)])
def test_pixels_alone_are_those_that_looking_at_one_after_the_other_finds(shape: tuple[int, int]) -> None:
    frame = drawn(shape, seed=6)
    found = [(int(row), int(column)) for row, column in np.argwhere(hot_pixels(frame))]
    assert found == alone_by_the_words(frame)
    assert found


@pytest.mark.parametrize(("shape", "seed"), [((300, 501), 7), ((333, 400), 8), ((4, 6), 9)])
def test_water_and_whole_looked_at_together_leave_what_each_leaves_alone(shape: tuple[int, int], seed: int) -> None:
    frame = drawn(shape, seed)
    water = np.random.default_rng(seed).random((shape[0] // 2, shape[1] // 2)) < 0.6
    whole = histograms(frame)
    wet = tuple(
        Histogram(channel=plane.channel, counts=np.bincount(plane.values[water]), black=plane.black)
        for plane in planes(frame)
    )
    together = each_less_hot(frame, [(wet, water), (whole, None)])
    apart = less_hot(wet, frame, water), less_hot(whole, frame)
    for one, other in zip(together, apart, strict=True):
        assert [each.counts.tolist() for each in one] == [each.counts.tolist() for each in other]
