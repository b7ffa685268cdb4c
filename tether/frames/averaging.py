"""One exposure out of many: the mean of raw frames, as linear as they are, less what dark frames have.

Frames are added one by one: a sum is held in single precision, which is exact for a thousand frames of 14 bits.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tether.files.raw import RawFrame
from tether.frames.hot import hot_pixels
from tether.frames.mosaic import CHANNELS

#: Levels of a mean: it has more of them than a frame, and noise falls below black.
BLACK, WHITE = 2048, 65535
#: More frames than this can't be added exactly.
MOST_FRAMES = 1000


@dataclass(frozen=True, kw_only=True)
class Mean:
    """The mean of frames.

    Attributes
    ----------
    frame
        As a raw frame whose black is :data:`BLACK` everywhere and whose white is :data:`WHITE`.
    frames, darks
        How many it is of, and how many dark frames were taken off.
    hot
        How many pixels that stood alone were filled from those beside them.
    scales
        How many times as much red, green and blue were multiplied by as green, so that all clip at one level: a sensor
        whose channels clip at levels of their own is another one afterwards, by so much.
    """

    frame: RawFrame
    scales: tuple[float, float, float]
    frames: int
    darks: int
    hot: int


def mean_of(frames: Iterable[RawFrame], darks: Iterable[RawFrame] = ()) -> Mean:
    """Return the mean of frames of one sensor and one exposure, less the mean of dark ones.

    Raises
    ------
    ValueError
        There is none, they are too many, or of different shapes, patterns or levels.
    """
    first, light, count = _sum(frames)
    if first is None:
        raise ValueError("there is no frame to average")
    _, dark, dark_count = _sum(darks, first)
    light /= count
    if dark_count:
        dark /= dark_count
        light -= dark  # black is in both
    scale = {channel: (WHITE - BLACK) / (first.white_of(channel) - max(first.black)) for channel in CHANNELS}
    for place, channel in enumerate(first.pattern):
        part = light[place // 2 :: 2, place % 2 :: 2]
        part -= 0.0 if dark_count else first.black[place]
        part *= scale[channel]  # type: ignore[index]
    light += BLACK
    mosaic = np.clip(np.round(light, out=light), 0, WHITE, out=light).astype(np.uint16)
    del light, dark
    frame = replace(first, mosaic=mosaic, black=(float(BLACK),) * 4, white=WHITE, whites=None)
    hot = hot_pixels(frame)
    return Mean(
        frame=_filled(frame, hot),
        scales=(scale["R"] / scale["G"], 1.0, scale["B"] / scale["G"]),
        frames=count,
        darks=dark_count,
        hot=int(hot.sum()),
    )


Light = NDArray[np.float32]


def _sum(frames: Iterable[RawFrame], like: RawFrame | None = None) -> tuple[RawFrame | None, Light, int]:
    total: Light = np.zeros((0, 0), dtype=np.float32)
    count = 0
    for frame in frames:
        if like is None:
            like = replace(frame, mosaic=np.broadcast_to(np.uint16(0), frame.mosaic.shape))  # its shape, no memory
        if count == 0:
            total = np.zeros(frame.mosaic.shape, dtype=np.float32)
        if not _are_alike(frame, like):
            raise ValueError("the frames are not of one sensor, or not of one kind of raw file")
        total += frame.mosaic
        count += 1
        if count > MOST_FRAMES:
            raise ValueError(f"more than {MOST_FRAMES} frames can't be averaged at once")
    return like, total, count


def _are_alike(one: RawFrame, other: RawFrame) -> bool:
    same_whites = one.white == other.white and one.whites == other.whites
    same_levels = same_whites and np.allclose(one.black, other.black, atol=1.0)
    return one.mosaic.shape == other.mosaic.shape and one.pattern == other.pattern and same_levels


def _filled(frame: RawFrame, hot: NDArray[np.bool_]) -> RawFrame:
    """Return a frame whose marked pixels have the median of the nearest of their colour."""
    rows, columns = np.nonzero(hot)
    height, width = frame.mosaic.shape
    beside = []
    for down, right in ((-2, 0), (2, 0), (0, -2), (0, 2)):
        row, column = rows + down, columns + right
        row = np.where((row < 0) | (row >= height), rows - down, row)
        column = np.where((column < 0) | (column >= width), columns - right, column)
        beside.append(frame.mosaic[row, column])
    mosaic = frame.mosaic.copy()
    if len(rows):
        mosaic[rows, columns] = np.median(np.array(beside), axis=0)
    return replace(frame, mosaic=mosaic)
