"""The one landscape, painted small: what stands still is its measure, and where it is wet there is only water."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from tether.body.simulated.landscape import _Painter, paint
from tether.body.simulated.scene import MARGIN_PX, Motion, Scene, window_of

WINDOW_PX = (180, 120)
MOTION = Motion(fall_px_s=300.0, run_px_s=200.0, pool_px_s=30.0, leaves_hz=0.7, leaves_px=2.0)


@pytest.fixture(scope="module")
def scene() -> Scene:
    return paint(WINDOW_PX, MOTION, 5)


def test_it_is_painted_once_and_is_the_same_for_the_same_seed(scene: Scene) -> None:
    assert paint(WINDOW_PX, MOTION, 5) is scene
    assert np.array_equal(_Painter(WINDOW_PX, MOTION, 5).scene().rest, scene.rest)
    assert not np.array_equal(_Painter(WINDOW_PX, MOTION, 6).scene().rest, scene.rest)


def test_the_still_rocks_are_one_in_the_mean_of_green(scene: Scene) -> None:
    assert scene.still.shape == (120, 180)
    assert scene.still.mean() > 0.05
    assert window_of(scene.rest)[1][scene.still].mean() == pytest.approx(1.0, rel=1e-3)


def test_nothing_moving_comes_near_what_is_still_and_nothing_but_water_is_wet(scene: Scene) -> None:
    assert not (scene.still & ndimage.binary_dilation(scene.wet, iterations=14)).any()  # some pixels away from water
    assert scene.wet.mean() > 0.05
    moments = np.stack([window_of(scene.averaged(start_s, 1e-3))[1] for start_s in (0.0, 0.4, 1.7, 3.1)])
    spread = moments.std(axis=0)
    assert spread[scene.still].max() < 0.02
    assert np.median(spread[scene.wet]) > 0.1


def test_water_takes_no_more_of_a_pixel_than_there_is() -> None:
    painter = _Painter(WINDOW_PX, MOTION, 5)
    free = np.full(painter.shape, 1.0, dtype=np.float32)
    fall, run, pool = (window_of(part) for part in painter.water_places(free))
    together = fall + run + pool
    assert together.min() >= 0
    assert together.max() <= 1 + 1e-6
    # The fall above, the pool below, and the run between them.
    heights = [float((part.sum(axis=1) * np.arange(120)).sum() / part.sum()) / 120 for part in (fall, run, pool)]
    assert heights[0] < 0.45 < heights[1] < 0.7 < heights[2]
    dry = painter.water_places(np.zeros(painter.shape, dtype=np.float32))
    assert not any(part.any() for part in dry)


def test_its_water_carries_the_same_light_however_long_it_is_looked_at(scene: Scene) -> None:
    means = [float(window_of(scene.averaged(0.0, open_s))[1][scene.wet].mean()) for open_s in (1e-3, 1.0, 600.0)]
    assert means == pytest.approx([means[-1]] * 3, rel=0.05)


def test_each_kind_of_water_runs_as_fast_as_it_is_told(scene: Scene) -> None:
    speeds = [float(np.hypot(*water.texture.velocity_px_s)) for water in scene.waters]
    assert max(speeds[:3]) == pytest.approx(1.1 * 300)
    assert max(speeds[3:7]) == pytest.approx(1.2 * 200)
    assert max(speeds[7:]) == pytest.approx(30)
    assert all(water.texture.velocity_px_s[0] > 0 for water in scene.waters[:7])  # downwards


def test_a_patch_stays_inside_of_the_picture_and_on_whole_cells() -> None:
    painter = _Painter(WINDOW_PX, MOTION, 5)
    whole = painter.patch(-9, 9, -9, 9)
    assert (whole.row, whole.column, whole.shape) == (0, 0, painter.shape)
    half = painter.patch(0.5, 0.75, 0.0, 0.5)
    assert (half.row, half.column, half.shape) == (60 + MARGIN_PX, MARGIN_PX, (30, 90))
