"""Pixels that stand alone are not light."""

from __future__ import annotations

import numpy as np
import pytest

from tests.frames.simulated import shot
from tether.body.simulated.world import SensorTruth, World
from tether.frames.exposing import seen_in
from tether.frames.hot import less_hot
from tether.frames.levels import histograms, levels_of

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
