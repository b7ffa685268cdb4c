"""The light of a scene over an opening: what stands still, the water over it, and the leaves in front of both."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest

from tether.body.simulated.scene import MARGIN_PX, Leaves, Patch, Scene, Water, window_of

SHAPE = (6, 8)
TOP = Patch(row=0, column=0, shape=(2, 4))


@dataclass
class Even:
    """What moves, of one value whatever the opening; it notes which openings were asked for."""

    value: Any
    asked: list[tuple[float, float]] = field(default_factory=list)

    def averaged(self, start_s: float, open_s: float) -> Any:
        self.asked.append((start_s, open_s))
        return self.value


def water(value: float, patch: Patch = TOP, envelope: float = 1.0) -> Water:
    texture: Any = Even(value)
    seen = np.full(patch.shape, envelope, dtype=np.float32)
    return Water(patch=patch, envelope=seen, colour=(0.5, 1.0, 2.0), texture=texture)


def leaves(cover: float, light: float, patch: Patch = TOP) -> Leaves:
    both = (np.full(patch.shape, cover, dtype=np.float32), np.full(patch.shape, light, dtype=np.float32))
    clump: Any = Even(both)
    return Leaves(patch=patch, colour=(1.0, 1.0, 0.5), clump=clump)


def scene(*waters: Water, leaves: tuple[Leaves, ...] = ()) -> Scene:
    nowhere = np.zeros(SHAPE, dtype=np.bool_)
    rest = np.full((3, *SHAPE), 0.25, dtype=np.float32)
    return Scene(rest=rest, waters=waters, leaves=leaves, still=nowhere, wet=nowhere)


def test_what_stands_still_is_seen_as_it_is_and_is_not_painted_over() -> None:
    one = scene(water(1.0))
    first = one.averaged(0.0, 1.0)
    assert (first[:, 5, 7] == 0.25).all()
    assert np.array_equal(one.averaged(0.0, 1.0), first)
    assert (one.rest == 0.25).all()


def test_water_is_added_in_its_place_through_its_envelope_and_in_its_colour() -> None:
    patch = Patch(row=2, column=1, shape=(2, 3))
    picture = scene(water(2.0, patch, envelope=0.5), water(1.0, patch)).averaged(0.0, 1.0)
    # 0.25 + (2.0 · 0.5 + 1.0) · colour
    assert picture[:, 2, 1] == pytest.approx([1.25, 2.25, 4.25])
    outside = np.ones(SHAPE, dtype=np.bool_)
    outside[2:4, 1:4] = False
    assert (picture[:, outside] == 0.25).all()


def test_leaves_hide_what_is_behind_them_by_what_they_cover() -> None:
    picture = scene(water(1.0), leaves=(leaves(0.75, 0.5),)).averaged(0.0, 1.0)
    # A quarter of (0.25 + water), and the leaves' own light.
    assert picture[:, 0, 0] == pytest.approx([0.25 * 0.75 + 0.5, 0.25 * 1.25 + 0.5, 0.25 * 2.25 + 0.25])


def test_light_is_never_less_than_none() -> None:
    assert scene(water(-9.0)).averaged(0.0, 1.0).min() == 0.0


def test_all_that_moves_is_averaged_over_the_same_opening() -> None:
    one, two = water(1.0), leaves(0.5, 0.5)
    scene(one, leaves=(two,)).averaged(3.0, 0.5)
    moved: Any = (one.texture, two.clump)
    assert [even.asked for even in moved] == [[(3.0, 0.5)], [(3.0, 0.5)]]


def test_the_window_is_what_lies_within_the_margin() -> None:
    painted = np.zeros((3, 2 * MARGIN_PX + 4, 2 * MARGIN_PX + 6), dtype=np.float32)
    painted[:, MARGIN_PX, MARGIN_PX] = painted[:, -MARGIN_PX - 1, -MARGIN_PX - 1] = 1.0
    window = window_of(painted)
    assert window.shape == (3, 4, 6)
    assert window[0, 0, 0] == window[0, -1, -1] == 1.0


def test_a_patch_takes_its_rows_and_columns() -> None:
    assert Patch(row=2, column=1, shape=(2, 3)).slices == (slice(2, 4), slice(1, 4))
