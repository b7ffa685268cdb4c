"""Hot and stuck pixels: bright ones that stand alone, so that they do not pass for light.

A lens does not draw a point on one pixel alone: what is bright in the picture reaches the pixels beside it, of whatever
colour. A pixel that is much brighter than all eight around it is its own doing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from math import ceil

import numpy as np
from numpy.typing import NDArray

from tether.files.raw import RawFrame
from tether.frames.levels import Histogram, histograms, level_exceeded_by

Mask = NDArray[np.bool_]
Places = NDArray[np.intp]
#: Histograms of the four places of the pattern, and where they were counted: a mask of one place; None: everywhere.
Counted = tuple[Sequence[Histogram], Mask | None]

#: A pixel stands alone that is so many times as bright as the brightest beside it, each measured by its own colour's
#: mean.
_ALONE = 2.0
#: Only the brightest of a place are looked at, this share of them; and none below this share of the way to white.
_BRIGHTEST, _BRIGHT = 0.01, 0.05
#: Those in the same row come first: they leave the fewest to be looked at further, and lie next in memory.
_BESIDE = sorted(set(product((-1, 0, 1), repeat=2)) - {(0, 0)}, key=lambda way: (abs(way[0]), way))
#: Looked for at a time: so many rows stay in the processor's cache.
_BAND_ROWS = 128


@dataclass(frozen=True, kw_only=True)
class _Pixels:
    """Some pixels of a frame: their rows and columns in the mosaic, and their levels."""

    rows: Places
    columns: Places
    values: NDArray[np.uint16]

    def where(self, chosen: Mask) -> _Pixels:
        return _Pixels(rows=self.rows[chosen], columns=self.columns[chosen], values=self.values[chosen])

    @property
    def places(self) -> Places:
        """Of which place of the pattern each is, 0 to 3."""
        return self.rows % 2 * 2 + self.columns % 2


def less_hot(found: Sequence[Histogram], frame: RawFrame, within: Mask | None = None) -> tuple[Histogram, ...]:
    """Return histograms of a frame's four places without pixels that stand alone.

    Parameters
    ----------
    found
        The histograms, counted over the whole frame or over `within`.
    within
        Where they were counted: a mask of one place of the pattern; None: everywhere.
    """
    (left,) = each_less_hot(frame, [(found, within)])
    return left


def each_less_hot(frame: RawFrame, counted: Sequence[Counted]) -> list[tuple[Histogram, ...]]:
    """Return :func:`less_hot` of each of several counts of one frame, whose pixels are looked at only once."""
    alone = _alone(frame, counted)
    return [_without(alone, frame, one) for one in counted]


def _without(alone: _Pixels, frame: RawFrame, counted: Counted) -> tuple[Histogram, ...]:
    found, within = counted
    if within is not None:
        alone = alone.where(within[alone.rows // 2, alone.columns // 2])
    left = []
    for place, (one, least) in enumerate(zip(found, _least(found, frame), strict=True)):
        values = alone.values[(alone.places == place) & (alone.values >= least)]
        counts = one.counts - np.bincount(values, minlength=len(one.counts))
        left.append(Histogram(channel=one.channel, counts=counts, black=one.black))
    return tuple(left)


def hot_pixels(frame: RawFrame) -> Mask:
    """Return which pixels of a frame stand alone, shape of its mosaic."""
    found = np.zeros(frame.mosaic.shape, dtype=np.bool_)
    alone = _alone(frame, [(histograms(frame), None)])
    found[alone.rows, alone.columns] = True
    return found


def _alone(frame: RawFrame, counted: Sequence[Counted]) -> _Pixels:
    """Return the pixels that stand alone among those that are bright for any of these counts."""
    bright = _bright(frame, counted)
    everywhere = next((found for found, within in counted if within is None), None) or histograms(frame)
    blacks = np.array([one.black for one in everywhere])
    scales = np.maximum([_mean(one) - one.black for one in everywhere], 1.0)
    return _brighter_than_beside(bright, frame, scales, blacks)


def _least(found: Sequence[Histogram], frame: RawFrame) -> list[int]:
    """Return from which level on a pixel of each place is looked at."""
    return [
        ceil(max(level_exceeded_by(one, _BRIGHTEST), one.black + _BRIGHT * (frame.white - one.black))) for one in found
    ]


def _mean(one: Histogram) -> float:
    return float(one.counts @ np.arange(len(one.counts))) / float(one.counts.sum())


def _bright(frame: RawFrame, counted: Sequence[Counted]) -> _Pixels:
    """Return the pixels that are bright for any of these counts; whole rows are compared, two places at a time."""
    height, width = (size // 2 * 2 for size in frame.mosaic.shape)
    least = [np.tile(np.reshape(_least(found, frame), (2, 2)), width // 2) for found, _ in counted]
    rows, columns = [], []
    for top, down in product(range(0, height, _BAND_ROWS), (0, 1)):
        values = frame.mosaic[top + down : min(top + _BAND_ROWS, height) : 2, :width]
        found = np.zeros(values.shape, dtype=np.bool_)
        for (_, within), levels in zip(counted, least, strict=True):
            reached = values >= levels[down].astype(np.uint16)
            if within is not None:
                _keep(reached, within[top // 2 : top // 2 + len(values)])
            found |= reached
        row, column = np.divmod(np.flatnonzero(found), width)
        rows.append(top + down + 2 * row)
        columns.append(column)
    row, column = np.concatenate(rows), np.concatenate(columns)
    return _Pixels(rows=row, columns=column, values=frame.mosaic[row, column])


def _keep(found: Mask, within: Mask) -> None:
    """Take from what was found in whole rows, shape (h, 2 w), what is not within a mask of shape (h, w)."""
    found.view(np.uint16)[:] &= within * np.uint16(0x0101)  # two beside one another at a time: far quicker


def _brighter_than_beside(
    these: _Pixels, frame: RawFrame, scales: NDArray[np.float64], blacks: NDArray[np.float64]
) -> _Pixels:
    """Return those that stand out from each of the eight beside them, in means of its colour."""
    height, width = frame.mosaic.shape
    these = these.where(these.values > blacks[these.places])
    for down, right in _BESIDE:
        row, column = these.rows + down, these.columns + right
        row, column = np.where(row < 0, 1, row), np.where(column < 0, 1, column)
        row, column = np.where(row >= height, height - 2, row), np.where(column >= width, width - 2, column)
        place, own = row % 2 * 2 + column % 2, these.places
        beside = (frame.mosaic[row, column] - blacks[place]) / scales[place]
        these = these.where(these.values - blacks[own] > _ALONE * scales[own] * beside)
    return these
