"""Frames as cells: the mean level of small squares by channel, which of them clip, and which of them stand still.

A cell is small enough for hundreds of them to vote, and large enough for noise not to count; a whole outing's frames
are kept as cells where their mosaics would fill the memory.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from tether.files.raw import RawFrame
from tether.frames.levels import clip_level, histograms
from tether.frames.mosaic import Channel, channels, planes

T = TypeVar("T", bound=np.generic)

#: A cell's side: so many go along the shorter side of the picture, and none is smaller than this [px of a plane].
_ALONG, _LEAST_PX = 48, 8
#: A cell is used where its brightest pixel stays below this share of clipping, and its mean above that one: sensors
#: are linear between. Own choice, no source.
LINEAR_TO, BRIGHT_FROM = 0.9, 2.0**-9
#: So much of what is usable counts as still: the quietest; and no fewer cells than so many.
_STILL_SHARE, _FEWEST = 1 / 3, 12


@dataclass(frozen=True, kw_only=True)
class Cells:
    """A frame as cells.

    Attributes
    ----------
    levels
        By channel the mean above black, shape (h, w) [DN].
    usable
        Where all three channels are within the sensor's linear range, shape (h, w).
    """

    levels: Mapping[Channel, NDArray[np.float64]]
    usable: NDArray[np.bool_]


def cells(frame: RawFrame) -> Cells:
    """Return a frame as cells; rows and columns that fill no whole cell are left out."""
    side = side_px((frame.mosaic.shape[0], frame.mosaic.shape[1]))
    clips_at = clip_level(histograms(frame), frame.white)
    means = {
        channel: np.asarray(_blocks(values, side).mean(axis=(1, 3), dtype=np.float64))
        for channel, values in channels(frame).items()
    }
    usable = np.ones(means["G"].shape, dtype=bool)
    for plane in planes(frame):
        most = plane.black + LINEAR_TO * (clips_at - plane.black)
        usable &= _blocks(plane.values, side).max(axis=(1, 3)) < most
    for level in means.values():
        usable &= level > BRIGHT_FROM * (clips_at - min(frame.black))
    return Cells(levels=means, usable=usable)


def side_px(shape: tuple[int, int]) -> int:
    """Return the side of the cells of a mosaic of this shape (H, W) [px of a plane]."""
    return max(min(shape) // 2 // _ALONG, _LEAST_PX)


def log_levels(frames: Sequence[Cells], channel: Channel, chosen: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return the levels of the chosen cells in one channel, shape (frames, cells) [stops]; all must be above black."""
    return np.asarray(np.log2(np.stack([frame.levels[channel][chosen] for frame in frames])))


def still_cells(frames: Sequence[Cells], alike: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Choose the cells that stand still: those whose part in the light changes least from frame to frame.

    Parameters
    ----------
    frames
        Everything that is to be compared; a cell must be usable in all of it.
    alike
        Which of them show the same but for the light, shape (frames,): at least two tell moving cells from still ones.

    Returns
    -------
    ndarray
        Shape (h, w): the quietest third of what is usable.

    Raises
    ------
    ValueError
        Too few cells are usable.
    """
    usable: NDArray[np.bool_] = np.asarray(np.stack([frame.usable for frame in frames]).all(axis=0))
    if usable.sum() < _FEWEST:
        raise ValueError("too little of the picture is bright enough and yet not clipped in all frames")
    logs = log_levels([frame for frame, same in zip(frames, alike, strict=True) if same], "G", usable)
    unrest = (logs - np.median(logs, axis=1, keepdims=True)).std(axis=0)
    keep = max(_FEWEST, round(_STILL_SHARE * len(unrest)))
    chosen = np.zeros_like(usable)
    chosen[usable] = unrest <= np.partition(unrest, keep - 1)[keep - 1]
    return chosen


def middle(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the mean of the middle half of the cells, shape (frames, cells) to (frames,)."""
    return np.asarray(stats.trim_mean(values, 0.25, axis=1), dtype=np.float64)


def _blocks(values: NDArray[T], side: int) -> NDArray[T]:
    rows, columns = (size // side for size in values.shape)
    return values[: rows * side, : columns * side].reshape(rows, side, columns, side)
