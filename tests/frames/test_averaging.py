"""The mean of raw frames: its level, its noise, what dark frames and hot pixels leave, and a true long exposure."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.frames.simulated import shot
from tether.body.simulated.world import SensorTruth, World
from tether.files.raw import RawFrame
from tether.frames.averaging import BLACK, WHITE, mean_of

FRAME_BLACK, FRAME_WHITE = 512, 16383
SCALE = (WHITE - BLACK) / (FRAME_WHITE - FRAME_BLACK)


def noisy(seed: int, level: float = 2000.0, sigma: float = 40.0, side: int = 200) -> RawFrame:
    """Return a flat frame: its mean above black and its noise, in raw levels."""
    values = np.random.default_rng(seed).normal(FRAME_BLACK + level, sigma, (side, side))
    mosaic = np.clip(np.round(values), 0, FRAME_WHITE).astype(np.uint16)
    return RawFrame(mosaic=mosaic, pattern="RGGB", black=(FRAME_BLACK,) * 4, white=FRAME_WHITE)


def above(frame: RawFrame) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Return a mean in the levels of one of its frames."""
    return (frame.mosaic.astype(np.float64) - BLACK) / SCALE


@pytest.mark.parametrize("n", [4, 16, 64])
def test_noise_falls_by_the_root_of_the_number_and_the_level_stays(n: int) -> None:
    """As measured on a real sensor to 1 %: tests/data/stack_gain_measured.csv."""
    mean = mean_of(noisy(seed, side=100) for seed in range(n))
    assert mean.frames == n
    assert above(mean.frame).mean() == pytest.approx(2000, abs=3)
    assert above(mean.frame).std() == pytest.approx(40 / n**0.5, rel=0.05)


def test_what_clips_in_every_frame_is_white() -> None:
    white = replace(noisy(1), mosaic=np.full((8, 8), FRAME_WHITE, dtype=np.uint16))
    assert (mean_of([white, white]).frame.mosaic == WHITE).all()


def test_each_channel_clips_at_its_own_level_and_what_it_is_multiplied_by_is_told() -> None:
    """Red clips half way from black to where green and blue do: a clipped frame is white, and red counts double."""
    whites = {"R": FRAME_BLACK + (FRAME_WHITE - FRAME_BLACK) // 2, "G": FRAME_WHITE, "B": FRAME_WHITE}
    clipped = replace(noisy(1), mosaic=np.full((8, 8), FRAME_WHITE, dtype=np.uint16), whites=whites)
    clipped.mosaic[::2, ::2] = whites["R"]
    mean = mean_of([clipped, clipped])
    assert (mean.frame.mosaic == WHITE).all()
    assert mean.scales == pytest.approx((2.0, 1.0, 1.0), abs=1e-3)
    assert mean_of([noisy(1), noisy(2)]).scales == (1.0, 1.0, 1.0)


def test_noise_below_black_is_kept() -> None:
    mean = mean_of(noisy(seed, level=0.0, sigma=8.0) for seed in range(9))
    assert above(mean.frame).mean() == pytest.approx(0, abs=0.1)
    assert (mean.frame.mosaic < BLACK).mean() == pytest.approx(0.5, abs=0.05)


def test_what_dark_frames_have_is_taken_off() -> None:
    glow = np.zeros((200, 200))
    glow[:, 100:] = 300.0
    frames, darks = (
        [replace(one, mosaic=(one.mosaic + glow).astype(np.uint16)) for one in found]
        for found in ([noisy(seed) for seed in range(4)], [noisy(10 + seed, level=0.0, sigma=4.0) for seed in range(4)])
    )
    mean = mean_of(frames, darks)
    assert mean.darks == 4
    left, right = above(mean.frame)[:, :100].mean(), above(mean.frame)[:, 100:].mean()
    assert right - left == pytest.approx(0, abs=3)


def test_a_pixel_that_stands_alone_is_filled() -> None:
    frames = [noisy(seed) for seed in range(4)]
    for one in frames:
        one.mosaic[50, 61] = one.mosaic[0, 0] = 15000
    mean = mean_of(frames)
    assert mean.hot == 2
    assert above(mean.frame)[50, 61] == pytest.approx(2000, abs=100)
    assert above(mean.frame)[0, 0] == pytest.approx(2000, abs=100)


@pytest.mark.parametrize(
    "other", [{"white": 4095}, {"pattern": "BGGR"}, {"black": (0.0,) * 4}, {"whites": {"R": 9000}}]
)
def test_frames_that_are_not_alike_are_not_averaged(other: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="not of one sensor"):
        mean_of([noisy(1), replace(noisy(2), **other)])  # type: ignore[arg-type]


def test_of_no_frame_there_is_no_mean() -> None:
    with pytest.raises(ValueError, match="no frame"):
        mean_of([])


def test_it_is_what_one_long_exposure_would_have_been() -> None:
    """Sixteen frames one after the other at ISO 1600 beside one as long as all of them at ISO 100, of moving water."""
    world = World.model_validate({"seed": 3, "sensor": SensorTruth(window_px=(180, 120))})
    short_s, n = 1 / 32, 16
    frames = [shot(world, open_s=short_s, start_s=k * short_s, number=k + 1, iso=1600) for k in range(n)]
    long = shot(world, open_s=n * short_s, number=99, iso=100)
    mean = mean_of(frames)
    ours = (mean.frame.mosaic.astype(np.float64) - BLACK) / (WHITE - BLACK)
    theirs = (long.mosaic.astype(np.float64) - long.black[0]) / (long.white - long.black[0])
    squares = [each.reshape(12, 10, 18, 10).mean(axis=(1, 3)) for each in (ours, theirs)]
    ratio = squares[0] / squares[1]
    assert np.median(ratio) == pytest.approx(1, abs=0.01)
    assert np.quantile(np.abs(ratio - np.median(ratio)), 0.95) < 0.05
