"""A filter's strength by light: on drawn simulated worlds (more: `tests.bench.filter_strength`), and on made cells."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.bench.filter_strength import Person, draw, errors, measured
from tests.body.simulated.rig import PITCH_UM
from tether.body.simulated.rendering import scene_of
from tether.files.raw import RawFrame
from tether.frames.cells import Cells, cells, side_px, still_cells
from tether.frames.mosaic import CHANNELS
from tether.frames.strength import StrengthFrame, excess, strength, weaker_when_longer

SHAPE = (20, 30)


def made(stops: float = 10.0, leak: float = 0.0, moved_cells: int = 0, per_s: float = 0.0) -> list[StrengthFrame]:
    """Return shots of cells with a known filter, light and leak [share of the cells' mean], noise of half a percent."""
    rng = np.random.default_rng(4)
    scene = 4000 * np.exp2(rng.uniform(-2, 0, SHAPE))
    moved = np.where(np.arange(scene.size).reshape(SHAPE) < moved_cells, np.exp2(rng.normal(0, 0.5, SHAPE)), 1.0)
    shots = []
    for turn in range(24):
        filtered, at_s = 8 <= turn < 16, 6.0 * turn
        level = scene * 2.0 ** (per_s * at_s)
        if filtered:
            level = level + leak * scene.mean() * np.linspace(0.5, 1.5, SHAPE[0])[:, None]
        if turn >= 16:
            level = level * moved
        levels = {channel: level * rng.normal(1, 0.005, SHAPE) for channel in CHANNELS}
        shots.append(
            StrengthFrame(
                cells=Cells(levels=levels, usable=np.ones(SHAPE, dtype=bool)),
                filtered=filtered,
                exposure_stops=stops if filtered else 0.0,
                at_s=at_s,
                open_s=1.0,
            )
        )
    return shots


@pytest.mark.parametrize("seed", [2, 5, 26])
def test_in_a_drawn_world_the_interval_holds_the_truth(seed: int) -> None:
    """Leaves, water, clouds, drift, a cast; in the last a knock too."""
    drawn = draw(seed)
    found, _ = measured(drawn, most_rounds=1)
    off = errors(drawn, found)
    assert abs(off[0]) <= min(found.stops["G"].half_width, 0.02)
    assert abs(off[1]) <= 0.003
    assert abs(off[2]) <= 0.003
    assert found.leak_stops is None
    assert found.moved == bool(drawn.world.knocks)


def test_a_leak_in_a_drawn_world_is_told_with_how_much() -> None:
    drawn = draw(14, clouds_stops=0.02, leak_e_s=20.0)
    found, _ = measured(drawn, most_rounds=1)
    assert found.leak_stops is not None
    assert found.leak_stops.value == pytest.approx(-errors(drawn, found)[0], rel=0.25)


def test_what_is_put_in_comes_out() -> None:
    found = strength(made(stops=6.6, per_s=0.002))
    assert found.stops["G"].value == pytest.approx(6.6, abs=0.002)
    assert found.light_per_minute == pytest.approx(0.12, abs=0.002)
    assert found.wander_stops < 0.001
    assert found.cells == SHAPE[0] * SHAPE[1] // 3
    assert not found.moved
    assert found.leak_stops is None


def test_half_a_percent_of_stated_doubt_is_in_the_interval() -> None:
    found = strength(made(), off_stops=0.05).stops["G"]
    assert found.half_width == pytest.approx(1.96 * 0.05, rel=0.02)


@pytest.mark.parametrize("leak", [0.02, 0.1, 0.5])
def test_a_leak_is_found_by_the_dark_cells(leak: float) -> None:
    found = strength(made(leak=leak))
    assert found.leak_stops is not None
    assert found.stops["G"].value + found.leak_stops.value == pytest.approx(10.0, abs=0.03 + 0.2 * leak)


def test_cells_that_moved_bend_nothing_and_are_told_where_no_others_are_left() -> None:
    few, all_of_them = strength(made(moved_cells=200)), strength(made(moved_cells=600))
    assert few.stops["G"].value == pytest.approx(10.0, abs=0.005)
    assert not few.moved
    assert all_of_them.moved


def test_light_that_leaks_shows_as_a_strength_that_falls_with_time() -> None:
    shorter, longer = strength(made(leak=0.01)), strength(made(leak=0.32))
    found = weaker_when_longer(shorter, longer)
    assert found.value > 0.3
    assert found.significant
    assert not weaker_when_longer(shorter, shorter).significant


def test_a_stack_is_held_against_the_sum_of_its_parts() -> None:
    one, other, both = (strength(made(stops)) for stops in (3.0, 6.0, 9.1))
    found = excess(both, [one, other])
    assert found.value == pytest.approx(0.1, abs=0.003)
    assert found.half_width == pytest.approx(math.sqrt(3) * both.stops["G"].half_width, rel=0.1)


def test_too_few_frames_or_cells_are_refused() -> None:
    shots = made()
    with pytest.raises(ValueError, match="two frames"):
        strength([shot for shot in shots if not shot.filtered])
    nothing = np.zeros(SHAPE, dtype=bool)
    with pytest.raises(ValueError, match="clipped"):
        strength([replace(shot, cells=replace(shot.cells, usable=nothing)) for shot in shots])


def test_the_still_cells_of_a_simulated_scene_are_rock_and_not_water_or_leaves() -> None:
    drawn = draw(3)
    shots = list(Person(drawn).shots(filtered=False, count=6))
    chosen = still_cells([shot.cells for shot in shots], np.ones(6, dtype=bool))
    wet = scene_of(drawn.world, PITCH_UM).wet
    side = 2 * side_px((wet.shape[0], wet.shape[1]))
    rows, columns = wet.shape[0] // side, wet.shape[1] // side
    drowned = wet[: rows * side, : columns * side].reshape(rows, side, columns, side).all(axis=(1, 3))
    assert chosen.sum() >= 30
    assert (chosen & drowned).sum() <= 0.05 * chosen.sum()


def test_cells_are_means_above_black_and_leave_out_what_clips() -> None:
    mosaic = np.full((400, 600), 1512, dtype=np.uint16)
    mosaic[3, 5] = 16383
    found = cells(RawFrame(mosaic=mosaic, pattern="RGGB", black=(512.0,) * 4, white=16383))
    assert side_px((400, 600)) == 8
    assert found.levels["R"][1, 1] == pytest.approx(1000)
    assert not found.usable[0, 0]
    assert found.usable.sum() == found.usable.size - 1
