"""The brushes of the simulated scene: what each is by its definition, on small fields."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from tether.body.simulated.brushes import Boulder, blobs, blur, boulder, crags, leaf, lit, sparks, step, tinted
from tether.body.simulated.moving import Field

SHAPE = (48, 64)


def rng(seed: int = 3) -> np.random.Generator:
    return np.random.default_rng(seed)


def flat(value: float = 0.0, shape: tuple[int, int] = SHAPE) -> Field:
    return np.full(shape, value, dtype=np.float32)


def test_a_blurred_point_spreads_by_the_given_radii_and_keeps_its_light() -> None:
    point = flat()
    point[24, 32] = 5.0
    soft = blur(point, (2.0, 4.0)).astype(np.float64)
    assert soft.sum() == pytest.approx(5.0, rel=1e-5)
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    down, right = ((soft * (where - centre) ** 2).sum() / 5.0 for where, centre in ((y, 24), (x, 32)))
    assert (np.sqrt(down), np.sqrt(right)) == (pytest.approx(2.0, rel=1e-2), pytest.approx(4.0, rel=1e-2))


def test_a_blur_wraps_round_at_the_edges() -> None:
    corner = flat()
    corner[0, 0] = 1.0
    soft = blur(corner, (2.0, 2.0))
    assert soft[-1, -1] == pytest.approx(soft[1, 1], rel=1e-4)


def grains(drawn: np.random.Generator) -> Field:
    return blobs(SHAPE, drawn, (2.0, 3.0))


def stones(drawn: np.random.Generator) -> Field:
    return crags(SHAPE, drawn)


@pytest.mark.parametrize("brush", [grains, stones])
def test_noise_has_no_mean_and_unit_deviation_and_is_that_of_its_seed(
    brush: Callable[[np.random.Generator], Field],
) -> None:
    field = brush(rng())
    assert field.shape == SHAPE
    assert (field.mean(), field.std()) == (pytest.approx(0, abs=1e-5), pytest.approx(1, abs=1e-5))
    assert np.array_equal(field, brush(rng()))
    assert not np.array_equal(field, brush(rng(4)))


def test_larger_grains_differ_less_from_pixel_to_pixel() -> None:
    rough = [float(np.abs(np.diff(blobs(SHAPE, rng(), (1.0, size)), axis=1)).mean()) for size in (1.0, 2.0, 4.0)]
    assert rough[0] > 1.5 * rough[1] > 2.25 * rough[2]
    steep, gentle = (np.abs(np.diff(crags(SHAPE, rng(), slope=slope), axis=1)).mean() for slope in (2.1, 1.1))
    assert steep < 0.6 * gentle


def test_sparks_are_as_many_as_told_never_dark_and_one_in_the_mean() -> None:
    # 48 × 64 pixels at 2000 in a million are 6 points; a radius of nothing leaves them where they fell.
    field = sparks(SHAPE, rng(), 2000, (0.0, 0.0))
    assert 1 <= np.count_nonzero(field > 1) <= 6
    for soft in (field, sparks(SHAPE, rng(), 0.0, (1.5, 1.5))):
        assert soft.min() >= 0
        assert soft.mean() == pytest.approx(1.0, rel=1e-5)


def test_a_step_rises_smoothly_over_its_softness() -> None:
    at = np.array([-9, -2, -1, 0, 1, 2, 9], dtype=np.float32)
    # t² (3 − 2 t) at t = 1/4 is 5/32.
    assert step(at, 2.0) == pytest.approx([0, 0, 5 / 32, 0.5, 27 / 32, 1, 1])


def test_level_ground_is_lit_evenly_and_slopes_to_the_upper_left_more() -> None:
    assert lit(flat()) == pytest.approx(flat(0.72))
    rising = np.asarray(0.5 * np.arange(64, dtype=np.float32)[None] + flat(), dtype=np.float32)
    # (0.60 + 0.45 · 0.5) / √(1 + 0.5²) + 0.12
    assert lit(rising) == pytest.approx(flat(0.12 + 0.825 / np.sqrt(1.25)), rel=1e-5)
    assert lit(np.asarray(9 * -rising, dtype=np.float32)) == pytest.approx(flat(0.12))


def test_a_boulder_covers_its_middle_and_nothing_far_from_it_and_is_as_dark_as_told() -> None:
    where = slice(10, 58), slice(20, 84)
    cover, light = boulder(*where, Boulder(centre_px=(34, 52), radius_px=(10, 12), tone=1.0), flat(), flat())
    assert cover[24, 32] == 1.0
    assert cover[0, 0] == cover[-1, -1] == cover[24, 63] == 0.0
    # Half covered at its edge, |dx|^2.2 = 1, a radius from the middle.
    assert cover[24, 32 + 12] == pytest.approx(0.5, abs=1e-3)
    assert (cover > 0.5).sum() == pytest.approx(np.pi * 10 * 12, rel=0.1)
    _, dark = boulder(*where, Boulder(centre_px=(34, 52), radius_px=(10, 12), tone=0.5), flat(), flat())
    assert dark == pytest.approx(0.5 * light)


def test_a_leaf_lies_from_its_base_to_its_tip_and_is_darker_at_its_base() -> None:
    cover, light = leaf(SHAPE, (24.0, 10.0), 0.0, 40.0, 0.25)
    along = cover[24]
    assert along[30] == 1.0
    assert max(along[8], along[52]) < 0.05  # no more than a breath on the line of its midrib
    assert cover[20, 8] == cover[20, 52] == 0.0
    # Widest in its middle, a quarter of its length to each side.
    assert cover[24 - 8, 30] == 1.0
    assert cover[24 - 12, 30] == cover[24 + 12, 30] == 0.0
    assert light[24, 15] < light[24, 45]
    assert light[26, 30] > light[22, 30]
    down, _ = leaf(SHAPE, (2.0, 32.0), np.pi / 2, 40.0, 0.25)
    assert down[22, 32] == 1.0
    assert down[24, 10] == 0.0


def test_a_colour_is_given_channel_by_channel() -> None:
    picture = tinted(flat(2.0), (0.5, 1.0, 0.25))
    assert picture.shape == (3, *SHAPE)
    assert [float(channel[0, 0]) for channel in picture] == [1.0, 2.0, 0.5]
