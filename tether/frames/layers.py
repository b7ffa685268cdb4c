"""Two frames of one tripod to be laid over each other: how they match on the rock, and a soft mask of the water."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from tether.files.raw import RawFrame
from tether.frames.cells import LINEAR_TO
from tether.frames.mosaic import CHANNELS, Channel, planes
from tether.frames.regions import Regions

#: So few pixels of rock, in each colour, that both frames show within their range are too few to match by.
_FEWEST = 500
Light = NDArray[np.float32]


@dataclass(frozen=True, kw_only=True)
class Match:
    """What the colours of two frames are multiplied by, red, green, blue, so that their rock is the same.

    Attributes
    ----------
    water, rest
        Of either frame; the greatest of all six is 1, so that nothing clips that a frame has room for.
    brighter
        How many times as bright the rest's rock was as the water's, by colour.
    """

    water: tuple[float, float, float]
    rest: tuple[float, float, float]
    brighter: tuple[float, float, float]


def matched(water: RawFrame, rest: RawFrame, regions: Regions) -> Match:
    """Return how two frames match on the rock that both show within their range.

    Raises
    ------
    ValueError
        They are of different shapes or patterns, or there is too little such rock.
    """
    if water.mosaic.shape != rest.mosaic.shape or water.pattern != rest.pattern:
        raise ValueError("the two frames are not of one sensor, or not of one size")
    sums = {channel: np.zeros(3) for channel in CHANNELS}
    for one, other in zip(planes(water), planes(rest), strict=True):
        rock = regions.mask("rock", (one.values.shape[0], one.values.shape[1]))
        first = _light(one.values[rock], one.black, water, one.channel)
        second = _light(other.values[rock], other.black, rest, other.channel)
        both = (first < LINEAR_TO) & (second < LINEAR_TO)
        sums[one.channel] += (first[both].sum(), second[both].sum(), both.sum())
    if any(dark <= 0 or bright <= 0 or count < _FEWEST for dark, bright, count in sums.values()):
        raise ValueError("there is too little rock that both frames show neither black nor clipped")
    red, green, blue = (float(sums[channel][1] / sums[channel][0]) for channel in CHANNELS)
    most = max(1.0, red, green, blue)
    return Match(water=(red / most, green / most, blue / most), rest=(1 / most,) * 3, brighter=(red, green, blue))


def _light(values: NDArray[np.uint16], black: float, frame: RawFrame, channel: Channel) -> NDArray[np.float64]:
    return (values - np.float64(black)) / (frame.white_of(channel) - black)


class SoftMask:
    """Where the water is, 1 in it and 0 beside it, in an upright picture; between them it passes over within a cell.

    What is neither water nor rock belongs to whichever is nearer.
    """

    def __init__(self, regions: Regions, left_turns: int, width: int, height: int) -> None:
        water, rock = regions.cell_mask("water"), regions.cell_mask("rock")
        nearest = distance_transform_edt(~(water | rock), return_distances=False, return_indices=True)
        cells = np.rot90(water[tuple(nearest)].astype(np.float32), left_turns)
        self._down = _weights(height, cells.shape[0])
        self._across = (cells @ _weights(width, cells.shape[1]).T).astype(np.float32)

    def rows(self, top: int, bottom: int) -> Light:
        """Return rows of the mask, 0 to 1, shape (bottom - top, width)."""
        found: Light = self._down[top:bottom] @ self._across
        return found


def _weights(size: int, cells: int) -> Light:
    """Return how much each cell of an axis counts at each pixel, shape (size, cells): by distance from two middles."""
    at = (np.arange(size) + 0.5) * cells / size - 0.5
    each = [np.interp(at, np.arange(cells), one) for one in np.eye(cells)]
    return np.stack(each, axis=1).astype(np.float32)
