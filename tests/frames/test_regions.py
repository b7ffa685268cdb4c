"""Regions: as rectangles, as proposed from what moves, and on the grid that carries them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.frames.scenes import Scene
from tether.frames.mosaic import Region
from tether.frames.regions import COLUMNS, ROWS, Regions, by_cell, movement, places_by_cell, proposed
from tether.frames.regions import given as given_regions


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_water_and_rock_are_proposed_where_they_are(tmp_path: Path, seed: int) -> None:
    scene = Scene(tmp_path, seed=seed)
    one, other = scene.frame(), scene.frame()
    found = proposed(one, other)
    shape = scene.wet.shape
    water, rock = found.mask("water", shape), found.mask("rock", shape)
    assert (water & scene.wet).sum() > 0.95 * scene.wet.sum()
    assert (water & scene.still).sum() < 0.02 * water.sum()
    assert not (rock & scene.wet).any()
    assert (rock & scene.still).sum() > 0.8 * scene.still.sum()


def test_a_tripod_that_moved_leaves_no_rock_to_be_sure_of(tmp_path: Path) -> None:
    scene = Scene(tmp_path, seed=2, knocks=[{"before_frame": 2, "right_px": 3.0}])
    found = proposed(scene.frame(), scene.frame())
    assert (found.mask("rock", scene.still.shape) & scene.still).sum() < 0.3 * scene.still.sum()


def test_a_change_of_light_is_no_movement(tmp_path: Path) -> None:
    scene = Scene(tmp_path, seed=3, stops_per_minute=4.0)
    one = scene.frame()
    scene.rig.wait(5)
    found = proposed(one, scene.frame())
    assert (found.mask("rock", scene.still.shape) & scene.still).sum() > 0.7 * scene.still.sum()


def test_noise_alone_does_not_move() -> None:
    rng = np.random.default_rng(1)
    level = np.kron(rng.uniform(200, 6000, (20, 30)), np.ones((16, 16)))
    one, other = (rng.poisson(level).astype(np.float32) for _ in range(2))
    moving = movement(one, other)
    assert moving.shape == (ROWS, COLUMNS)
    assert float(np.median(moving)) == pytest.approx(1.0, abs=0.05)


def test_later_rectangles_cover_earlier_ones() -> None:
    found = given_regions(
        [
            Region(kind="rock", left=0, top=0, right=1, bottom=1),
            Region(kind="water", left=0.25, top=0, right=0.75, bottom=1),
            Region(kind="ignore", left=0.5, top=0.5, right=1, bottom=1),
        ]
    )
    mask = found.mask("water", (96, 144))
    assert mask[:, :36].sum() == 0
    assert mask[:48, 36:108].all()
    assert not mask[48:, 72:].any()
    assert found.share("water") == pytest.approx(0.375)
    assert found.share("rock") + found.share("water") + found.share("ignore") == pytest.approx(1)


def test_of_what_kind_none_is_given_that_is_proposed_beside_the_rectangles() -> None:
    half = COLUMNS // 2
    proposal = Regions(cells=("w" * half + "r" * (COLUMNS - half),) * ROWS)
    water = Region(kind="water", left=0.0, top=0.0, right=0.25, bottom=1.0)
    ignored = Region(kind="ignore", left=0.75, top=0.0, right=1.0, bottom=1.0)
    found = given_regions([water, ignored], beside=proposal)
    assert found.cells[0] == "w" * (half // 2) + "." * (half // 2) + "r" * (half // 2) + "." * (half // 2)
    both = [water, Region(kind="rock", left=0.5, top=0.0, right=0.6, bottom=1.0)]
    assert given_regions(both, beside=proposal) == given_regions(both)
    assert given_regions([], beside=proposal) == proposal


@given(height=st.integers(ROWS, 400), width=st.integers(COLUMNS, 400), seed=st.integers(0, 2**32 - 1))
def test_masks_and_means_share_one_grid(height: int, width: int, seed: int) -> None:
    """A plane that is 1 where a mask is set has the mean 1 in the cells of that kind, and 0 in all others."""
    letters = np.random.default_rng(seed).choice(list("wr."), (ROWS, COLUMNS))
    found = Regions(cells=tuple("".join(row) for row in letters))
    plane = found.mask("water", (height, width)).astype(np.float32)
    np.testing.assert_array_equal(by_cell(plane), found.cell_mask("water").astype(float))


@pytest.mark.parametrize("cells", [("w" * COLUMNS,) * (ROWS - 1), ("x" * COLUMNS,) * ROWS, ("w",) * ROWS])
def test_other_shapes_and_letters_are_refused(cells: tuple[str, ...]) -> None:
    with pytest.raises(ValueError, match="rows of"):
        Regions(cells=cells)


def test_the_four_places_are_told_apart_in_every_cell() -> None:
    mosaic = np.random.default_rng(3).integers(0, 16384, (311, 433)).astype(np.uint16)
    for place, found in enumerate(places_by_cell(mosaic)):
        plane = mosaic[place // 2 : 310 : 2, place % 2 : 432 : 2]
        np.testing.assert_array_equal(found, by_cell(plane))
        assert found[0, 0] == pytest.approx(plane[:3, :3].mean())
        assert found[-1, -1] == pytest.approx(plane[-3:, -3:].mean())
