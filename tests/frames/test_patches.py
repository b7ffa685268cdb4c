"""Squares of the green plane: cut as the whole plane has them, chosen apart, and looked at smoothed and moved."""

from __future__ import annotations

import numpy as np
import pytest

from tether.files.raw import RawFrame
from tether.frames.mosaic import channels
from tether.frames.patches import corners_in, cut, looked_at, noise_in, spread


@pytest.mark.parametrize("pattern", ["RGGB", "GRBG", "GBRG", "BGGR"])
def test_squares_are_the_green_plane(pattern: str) -> None:
    mosaic = np.random.default_rng(1).integers(500, 4000, (120, 160)).astype(np.uint16)
    frame = RawFrame(mosaic=mosaic, pattern=pattern, black=(500.0, 510.0, 520.0, 530.0), white=16383)
    found = cut(frame, np.array([[0, 0], [10, 23]]), 32)
    assert found.mean[1] == pytest.approx(channels(frame)["G"][10:42, 23:55])
    assert found.clipped.max() == 0


def test_clipped_pixels_are_counted() -> None:
    mosaic = np.full((80, 80), 600, dtype=np.uint16)
    mosaic[1, 0:16:2] = 16000  # eight of one green place, in a square of 16
    frame = RawFrame(mosaic=mosaic, pattern="RGGB", black=(512.0,) * 4, white=16383)
    assert cut(frame, np.array([[0, 0]]), 16).clipped[0] == 8 / (2 * 16 * 16)


@pytest.mark.parametrize("pattern", ["RGGB", "GRBG"])
def test_noise_of_a_single_frame(pattern: str) -> None:
    rng = np.random.default_rng(3)
    y, x = np.mgrid[:600, :800]
    # Waves of 16 px and longer, as brightness from 300 to 8000.
    level = np.exp(np.linspace(5.7, 9.0, 800))[None, :] * (1 + 0.1 * np.sin(2 * np.pi * y / 16))
    mosaic = np.rint(512 + 0.4 * rng.poisson(level / 0.4) + rng.normal(0, 5, x.shape)).astype(np.uint16)
    frame = RawFrame(mosaic=mosaic, pattern=pattern, black=(512.0,) * 4, white=16383)
    places = corners_in(np.ones((300, 400), dtype=bool), side=48, margin=0, most=60)
    assert noise_in(cut(frame, places, 48)).gain == pytest.approx(0.4 / 2, rel=0.1)


def test_squares_lie_in_the_region_apart_and_all_over() -> None:
    region = np.zeros((400, 600), dtype=bool)
    region[50:250, 100:560] = True
    corners = corners_in(region, side=32, margin=10, most=10_000)
    assert all(region[row : row + 32, column : column + 32].mean() > 0.97 for row, column in corners)
    scores = np.random.default_rng(1).random(len(corners)) + 10 * (corners[:, 1] < 200)
    taken = corners[spread(corners, scores, region.shape, side=32, most=20)]
    assert len(taken) == 20
    apart = np.abs(taken[:, None] - taken[None]).max(axis=2) + 99 * np.eye(20)
    assert apart.min() >= 32
    assert (taken[:, 1] > 400).sum() >= 4


def test_moved_and_derived_looks_are_those_of_the_wave() -> None:
    y, x = np.mgrid[:80, :80].astype(np.float32)
    fy, fx, sigma = 0.05, 0.08, 1.2

    def wave(down: float, right: float) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
        return np.asarray(2 * np.pi * (fy * (y + down) + fx * (x + right)))[16:64, 16:64]

    square = np.sin(2 * np.pi * (fy * y + fx * x))[None].astype(np.float32)
    kept = np.exp(-2 * (np.pi * sigma) ** 2 * (fy**2 + fx**2))
    moved = np.array([[2.3, -4.6]])
    phase = wave(2.3, -4.6)
    assert looked_at(square, 48, sigma, moved=moved)[0] == pytest.approx(kept * np.sin(phase), abs=1e-4)
    right = looked_at(square, 48, sigma, (0, 1), moved)[0]
    assert right == pytest.approx(kept * 2 * np.pi * fx * np.cos(phase), abs=1e-4)
    twice = looked_at(square, 48, sigma, (2, 0), moved)[0]
    assert twice == pytest.approx(-kept * (2 * np.pi * fy) ** 2 * np.sin(phase), abs=1e-4)
