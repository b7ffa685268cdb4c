"""Hot and stuck pixels: bright ones that stand alone, so that they do not pass for light.

A lens does not draw a point on one pixel alone: what is bright in the picture reaches the pixels beside it, of whatever
colour. A pixel that is much brighter than all eight around it is its own doing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray

from tether.files.raw import RawFrame
from tether.frames.levels import Histogram, histograms, level_exceeded_by
from tether.frames.mosaic import planes

Mask = NDArray[np.bool_]
Alone = tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.uint16]]

#: A pixel stands alone that is so many times as bright as the brightest beside it, each measured by its own colour's
#: mean.
_ALONE = 2.0
#: Only the brightest of a place are looked at, this share of them; and none below this share of the way to white.
_BRIGHTEST, _BRIGHT = 0.01, 0.05
_BESIDE = [(down, right) for down, right in product((-1, 0, 1), repeat=2) if (down, right) != (0, 0)]


def less_hot(found: Sequence[Histogram], frame: RawFrame, within: Mask | None = None) -> tuple[Histogram, ...]:
    """Return histograms of a frame's four places without pixels that stand alone.

    Parameters
    ----------
    found
        The histograms, counted over the whole frame or over `within`.
    within
        Where they were counted: a mask of one place of the pattern; None: everywhere.
    """
    left = []
    for one, (_, _, values) in zip(found, _alone(frame, found, within), strict=True):
        counts = one.counts - np.bincount(values, minlength=len(one.counts))
        left.append(Histogram(channel=one.channel, counts=counts, black=one.black))
    return tuple(left)


def _alone(frame: RawFrame, found: Sequence[Histogram], within: Mask | None) -> Iterator[Alone]:
    """Yield for each place of the pattern the rows, columns and levels of the pixels that stand alone."""
    scales = np.ones((2, 2))
    parts = list(planes(frame))
    for place, plane in enumerate(parts):
        scales[divmod(place, 2)] = max(float(plane.values.mean(dtype=np.float64)) - plane.black, 1.0)
    blacks = np.array([plane.black for plane in parts]).reshape(2, 2)
    for place, (one, plane) in enumerate(zip(found, parts, strict=True)):
        least = max(level_exceeded_by(one, _BRIGHTEST), one.black + _BRIGHT * (frame.white - one.black))
        bright = plane.values >= least if within is None else (plane.values >= least) & within
        rows, columns = np.nonzero(bright)
        down, right = divmod(place, 2)
        rows, columns = 2 * rows + down, 2 * columns + right
        values = frame.mosaic[rows, columns]
        alone = values - one.black > _ALONE * scales[down, right] * _around(frame, rows, columns, scales, blacks)
        yield rows[alone], columns[alone], values[alone]


def hot_pixels(frame: RawFrame) -> Mask:
    """Return which pixels of a frame stand alone, shape of its mosaic."""
    found = np.zeros(frame.mosaic.shape, dtype=np.bool_)
    for rows, columns, _ in _alone(frame, histograms(frame), None):
        found[rows, columns] = True
    return found


def _around(
    frame: RawFrame,
    rows: NDArray[np.intp],
    columns: NDArray[np.intp],
    scales: NDArray[np.float64],
    blacks: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the brightest of the eight beside each pixel, in means of its colour."""
    height, width = frame.mosaic.shape
    most = np.zeros(len(rows))
    for down, right in _BESIDE:
        row, column = rows + down, columns + right
        row, column = np.where(row < 0, 1, row), np.where(column < 0, 1, column)
        row, column = np.where(row >= height, height - 2, row), np.where(column >= width, width - 2, column)
        place = row % 2, column % 2
        most = np.maximum(most, (frame.mosaic[row, column] - blacks[place]) / scales[place])
    return most
