"""Pictures side by side: the same part, as bright and of the same cast; and cells that show what they should."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from tether.desk.half_blocks import Cut
from tether.desk.pictures import Picture, box_of, decoded, evened, in_red, marked, opened, room_for, sized, within


def scene(seed: int = 5) -> Picture:
    """Return a picture of soft shapes, nothing of it dark or burnt."""
    coarse = np.random.default_rng(seed).integers(70, 180, (8, 12, 3), dtype=np.uint8)
    return np.asarray(Image.fromarray(coarse).resize((120, 80), Image.Resampling.BICUBIC))


def lit(picture: Picture, by_stops: tuple[float, float, float]) -> Picture:
    """Return a picture as it is with more or less light in each channel, by sRGB as IEC 61966-2-1 has it."""
    value = picture / 255
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4) * 2.0 ** np.array(by_stops)
    linear = np.clip(linear, 0, 1)
    value = np.where(linear <= 0.0031308, linear * 12.92, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.rint(value * 255).astype(np.uint8)


@given(st.tuples(*[st.floats(-1.2, 0.8)] * 3))
def test_brightness_and_cast_are_evened_out(by_stops: tuple[float, float, float]) -> None:
    first = scene()
    made = evened(lit(first, by_stops), first)
    assert made is not None
    assert made.brighter_stops == pytest.approx([-one for one in by_stops], abs=0.02)
    kept = lit(first, by_stops) < 250  # what burnt out does not come back
    assert np.abs(made.picture.astype(int) - first)[kept].max() <= 4


def test_what_burns_in_one_does_not_spoil_the_measure() -> None:
    first = scene()
    second = lit(first, (0.5, 0.5, 0.5))
    second[:30, :60] = 255  # water that burnt out
    made = evened(second, first)
    assert made is not None
    assert made.brighter_stops == pytest.approx([-0.5] * 3, abs=0.02)


def test_nothing_in_common_is_not_evened() -> None:
    assert evened(np.full((20, 30, 3), 255, dtype=np.uint8), np.full((20, 30, 3), 120, dtype=np.uint8)) is None
    assert evened(scene(), scene()[:40]) is None


@given(st.sampled_from([1, 2, 4, 8]), st.floats(-0.2, 1.2), st.floats(-0.2, 1.2))
def test_a_part_is_of_the_asked_size_and_inside(zoom: int, x: float, y: float) -> None:
    picture: Any = np.arange(80 * 120 * 3, dtype=np.uint32).reshape(80, 120, 3)  # every value another place
    part = within(picture, box_of(picture, Cut(zoom=zoom, centre=(x, y)), 33, 20))
    assert part.shape == (80 // zoom, 120 // zoom, 3)
    top, left = divmod(int(part[0, 0, 0]) // 3, 120)
    assert np.array_equal(part, picture[top : top + 80 // zoom, left : left + 120 // zoom])
    if 0.5 / zoom <= x <= 1 - 0.5 / zoom:
        assert abs(left + part.shape[1] / 2 - x * 120) <= 1


@given(st.sampled_from([1, 2, 4]), st.integers(4, 200), st.integers(2, 100), st.floats(0, 1), st.floats(0, 1))
def test_a_part_that_fills_a_room_has_its_shape_and_lies_inside(
    zoom: int, columns: int, rows: int, x: float, y: float
) -> None:
    picture = np.zeros((400, 600, 3), dtype=np.uint8)
    left, top, right, bottom = box_of(picture, Cut(zoom=zoom, centre=(x, y), fill=True), columns, rows)
    assert 0 <= left < right <= 600
    assert 0 <= top < bottom <= 400
    if min(right - left, bottom - top) > 20:
        assert (right - left) / (bottom - top) == pytest.approx(columns / (2 * rows), rel=0.06)
    assert right - left == pytest.approx(600 / zoom, abs=1) or bottom - top == pytest.approx(400 / zoom, abs=1)


@given(st.integers(1, 200), st.integers(1, 100))
def test_a_picture_fits_its_room_and_keeps_its_shape(columns: int, rows: int) -> None:
    wide, high = room_for(scene(), columns, rows)
    assert sized(scene(), wide, high).shape == (high, wide, 3)
    assert wide <= columns
    assert high <= 2 * rows
    assert high % 2 == 0
    if high > 20 and wide > 20:
        assert wide / high == pytest.approx(1.5, rel=0.1)


def test_in_red_there_is_hardly_any_other_light() -> None:
    red = in_red(scene())
    assert red[..., 2].max() == 0
    assert red[..., 1].max() <= red[..., 0].max() // 8
    assert np.corrcoef(red[..., 0].ravel(), scene()[..., 1].ravel())[0, 1] > 0.8  # it is still the picture


def test_a_file_that_is_no_picture_is_none(tmp_path: Path) -> None:
    (tmp_path / "torn.jpg").write_bytes(b"\xff\xd8 torn")
    assert opened(tmp_path / "torn.jpg") is None
    assert opened(tmp_path / "missing.jpg") is None


def test_a_jpeg_that_came_from_elsewhere_is_a_picture() -> None:
    file = io.BytesIO()
    Image.fromarray(scene()).save(file, "JPEG", quality=95)
    assert np.abs(decoded(file.getvalue()).astype(int) - scene()).mean() < 4


@pytest.mark.parametrize("size", [(54, 36), (36, 24), (134, 88)], ids=["80x24", "60x20", "160x50"])
@pytest.mark.parametrize("ground", [0, 90, 240])
def test_marks_tell_water_from_rock_by_shape_on_any_ground(size: tuple[int, int], ground: int) -> None:
    """Water left, rock right, neither in the middle: standing strokes, dots, nothing."""
    wide, high = size
    cells = tuple("w" * 24 + "." * 24 + "r" * 24 for _ in range(48))
    pixels = np.full((high, wide, 3), ground, dtype=np.uint8)
    drawn = marked(pixels, cells)[..., 0].astype(int)
    water, plain, rock = (
        drawn[:, : wide // 3 - 1],
        drawn[:, wide // 3 + 1 : 2 * wide // 3 - 1],
        drawn[:, 2 * wide // 3 + 1 :],
    )
    assert len(set(plain.ravel())) == 1
    light = plain[0, 0] + 90
    strokes = [(water[:, column] > light).all() for column in range(water.shape[1])]
    assert sum(strokes) >= 2
    assert not any((rock[:, column] > light).all() for column in range(rock.shape[1]))
    assert 0.02 < (rock > light).mean() < 0.2  # dots, far enough apart to see what lies below
    assert (water > light).mean() < 0.4
    assert plain[0, 0] < 0.6 * 255  # dimmed, so that marks are seen on foam
