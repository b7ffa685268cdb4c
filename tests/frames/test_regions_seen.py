"""Rock is proposed only where something that moves would be seen."""

from __future__ import annotations

from math import log2

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.frames.simulated import shot, still_of, wet_of
from tether.body.simulated.world import SensorTruth, World
from tether.files.raw import RawFrame
from tether.frames.regions import proposed, why_no_rock

SHAPE = (480, 720)


def world(seed: int, electrons: float) -> World:
    return World(seed=seed, base_level_stops=log2(electrons / 50_000), sensor=SensorTruth(window_px=(480, 320)))


@pytest.mark.parametrize("electrons", [12, 20, 30, 250, 2000])
@pytest.mark.parametrize("seed", [21, 22])
def test_in_dim_light_no_wet_cell_passes_for_rock(seed: int, electrons: float) -> None:
    truth = world(seed, electrons)
    one, other = (shot(truth, open_s=1 / 64, start_s=at, number=n) for n, at in ((1, 0.0), (2, 0.9)))
    found, wet = proposed(one, other), wet_of(truth)
    rock = found.mask("rock", wet.shape)
    assert (rock & wet).sum() <= 0.01 * max(rock.sum(), 1)
    if electrons >= 250:
        assert (rock & still_of(truth)).sum() > 0.9 * still_of(truth).sum()
        assert why_no_rock(one, other) is None
    if electrons <= 12:
        assert not rock.any()
        assert "dark" in (why_no_rock(one, other) or "")


def frame(light: NDArray[np.float64], seed: int) -> RawFrame:
    """Return a frame of electrons."""
    caught = np.random.default_rng(seed).poisson(light)
    return RawFrame(
        mosaic=(512 + np.rint(0.3 * caught)).astype(np.uint16), pattern="RGGB", black=(512.0,) * 4, white=16383
    )


def test_water_so_even_that_it_would_not_be_seen_to_move_is_no_rock() -> None:
    """To the left detail that stays; to the right not even a grain, as of water under a grey sky."""
    grain = np.random.default_rng(3).uniform(0.7, 1.3, (SHAPE[0] // 4, SHAPE[1] // 4)).repeat(4, 0).repeat(4, 1)
    light = 3000 * np.where(np.arange(SHAPE[1]) < SHAPE[1] // 2, grain, 1.0)
    found = proposed(frame(light, 1), frame(light, 2))
    rock = found.cell_mask("rock")
    assert rock[:, :34].mean() > 0.95
    assert not rock[:, 38:].any()
    even = np.full(SHAPE, 3000.0)
    assert proposed(frame(even, 1), frame(even, 2)).share("rock") == 0
    assert "even water" in (why_no_rock(frame(even, 1), frame(even, 2)) or "")
