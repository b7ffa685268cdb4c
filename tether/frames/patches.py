"""Squares of the green plane: chosen within a region, cut from a frame, and looked at smoothed and moved.

Only the squares are touched, so that a frame of 60 Mpx costs no more than a small one. Places and lengths are pixels of
the green plane, half as many as the sensor's along each side; down first, then right.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from tether.files.raw import RawFrame
from tether.frames.levels import CLIPS_FROM
from tether.frames.noise import Noise, lower_line

Mask = NDArray[np.bool_]
#: Pictures of n squares, shape (n, side, side).
Squares = NDArray[np.float32]
#: First row and first column of n squares, shape (n, 2).
Corners = NDArray[np.int64]

#: A square lies in a region that holds this share of it: a mask may be a little ragged.
_WITHIN = 0.98
#: The frame is divided into so many rows and columns of cells, and squares are chosen from all of them in turn.
_CELLS = 5, 8
#: What is left around a square where noise is looked for [px of the plane].
_AROUND_PX = 4


@dataclass(frozen=True, kw_only=True)
class Kept:
    """What is kept of squares of base frames, for later frames to be compared with: arrays, so that it can be stored.

    Attributes
    ----------
    shape
        Height and width of the green plane, shape (2,) [px].
    corners
        First row and column of each square, or of its middle, shape (n, 2) [px of the plane].
    """

    shape: NDArray[np.int64]
    corners: Corners

    def arrays(self) -> dict[str, NDArray[Any]]:
        """Return its arrays by name, as `numpy.savez_compressed` takes them."""
        return {field.name: getattr(self, field.name) for field in fields(self)}

    @classmethod
    def from_arrays(cls, arrays: Mapping[str, NDArray[Any]]) -> Self:
        """Return the record whose arrays these are."""
        return cls(**{field.name: arrays[field.name] for field in fields(cls)})

    def of(self, which: NDArray[Any]) -> Self:
        """Return some of the squares."""
        of_squares = {name: array[which] for name, array in self.arrays().items() if name != "shape"}
        return replace(self, **of_squares)

    def refuse_other_size(self, frame: RawFrame) -> None:
        """Raise ValueError for a frame that is not as large as the base frames."""
        if plane_shape(frame) != tuple(self.shape):
            raise ValueError("a frame is compared with base frames of the same size only")


@dataclass(frozen=True, kw_only=True)
class Cut:
    """Squares cut from one frame.

    Attributes
    ----------
    greens
        Both green places above black, shape (2, n, side, side) [DN].
    apart
        Where the middle of both places lies from the first, down and to the right, shape (2,) [px of the plane].
    clipped
        The share of each square's pixels that is clipped, shape (n,).
    """

    greens: NDArray[np.float32]
    apart: NDArray[np.float64]
    clipped: NDArray[np.float64]

    @property
    def mean(self) -> Squares:
        """The mean of both green places, shape (n, side, side) [DN]."""
        return np.asarray(self.greens.mean(axis=0))


def cut(frame: RawFrame, corners: Corners, side: int) -> Cut:
    """Cut squares out of a frame's green places; they must lie within it."""
    places = [place for place, colour in enumerate(frame.pattern) if colour == "G"]
    greens = np.empty((2, len(corners), side, side), dtype=np.float32)
    clipped = np.zeros(len(corners))
    for half, place in zip(greens, places, strict=True):
        down, right = divmod(place, 2)
        plane = frame.mosaic[down::2, right::2]
        for square, (row, column) in zip(half, corners, strict=True):
            square[:] = plane[row : row + side, column : column + side]
        half -= np.float32(frame.black[place])
        clips_at = CLIPS_FROM * (frame.white - frame.black[place])
        clipped += (half >= clips_at).mean(axis=(1, 2)) / len(places)
    first, second = (np.array(divmod(place, 2)) for place in places)
    return Cut(greens=greens, apart=(second - first) / 4, clipped=clipped)


def plane_shape(frame: RawFrame) -> tuple[int, int]:
    """Return the height and width of a frame's green plane."""
    return frame.mosaic.shape[0] // 2, frame.mosaic.shape[1] // 2


def noise_in(squares: Cut) -> Noise:
    """Return the noise of the mean of both green places, from a single frame.

    It is what either place, looked at where the other one lies, has for itself, in the quietest squares for their
    level: detail too fine for the plane adds to it.
    """
    side = squares.greens.shape[-1]
    core = side - 2 * _AROUND_PX
    variances = []
    for derive in ((0, 1), (1, 0)):
        one, other = (
            looked_at(green, core, 1.0, derive, np.tile(place, (len(green), 1)))
            for green, place in zip(squares.greens, (squares.apart, -squares.apart), strict=True)
        )
        variances.append(np.square(one - other).mean(axis=(1, 2), dtype=np.float64) / 4 / noise_kept(1.0))
    level = squares.mean.mean(axis=(1, 2), dtype=np.float64)
    floor, gain = lower_line(level, np.mean(variances, axis=0))
    return Noise(gain=gain, read=floor**0.5)


def noise_kept(sigma: float) -> float:
    """Return the variance that is left of white noise of variance 1 in a derivative: 1/(8πσ⁴)."""
    return float(1 / (8 * np.pi * sigma**4))


def corners_in(region: Mask, *, side: int, margin: int, most: int) -> Corners:
    """Return up to `most` places, evenly drawn, whose square lies in a region and `margin` px within the frame."""
    stride = max(side // 4, 1)
    whole = np.zeros((region.shape[0] + 1, region.shape[1] + 1), dtype=np.int32)
    whole[1:, 1:] = region.cumsum(axis=0, dtype=np.int32).cumsum(axis=1, dtype=np.int32)
    rows, columns = (np.arange(margin, size - margin - side + 1, stride) for size in region.shape)
    top, left = rows[:, None], columns[None, :]
    inside = whole[top + side, left + side] - whole[top, left + side] - whole[top + side, left] + whole[top, left]
    row, column = np.nonzero(inside >= _WITHIN * side**2)
    found = np.stack([rows[row], columns[column]], axis=1).astype(np.int64)
    return found if len(found) <= most else np.random.default_rng(0).permutation(found)[:most]


def spread(corners: Corners, scores: NDArray[np.float64], shape: tuple[int, int], *, side: int, most: int) -> list[int]:
    """Return which squares to take: the best-scored of every part of the frame in turn, none over another."""
    cells = corners * _CELLS // shape
    best_first = np.argsort(-scores)
    taken: list[int] = []
    for turn in _in_turns([tuple(cells[index]) for index in best_first]):
        index = int(best_first[turn])
        apart = np.abs(corners[taken] - corners[index]).max(axis=1) >= side
        if apart.all():
            taken.append(index)
        if len(taken) == most:
            break
    return taken


def _in_turns(cells: list[tuple[int, ...]]) -> Iterator[int]:
    """Yield positions so that the first of every cell come first, then the second, and so on."""
    seen: Counter[tuple[int, ...]] = Counter()
    turns = []
    for position, cell in enumerate(cells):
        turns.append((seen[cell], position))
        seen[cell] += 1
    yield from (position for _, position in sorted(turns))


def looked_at(
    squares: Squares,
    core: int,
    sigma: float,
    derive: tuple[int, int] = (0, 0),
    moved: NDArray[np.float64] | None = None,
) -> Squares:
    """Return the middle of squares, smoothed by a Gaussian, derived along either side, and moved.

    Smoothing, derivative and interpolation are one sum over the square's own pixels, exact but for the Gaussian's
    tails: `sigma` must be 0.7 px or more, and the core leave three times that and the move around it.

    Parameters
    ----------
    squares
        Shape (n, side, side).
    core
        Side of the middle that is returned.
    sigma
        Of the Gaussian [px].
    derive
        How often, 0 to 2, it is derived down and to the right.
    moved
        From where, down and to the right of the middle, each core is taken, shape (n, 2) [px].
    """
    at = np.zeros((1, 2)) if moved is None else moved
    down, right = (_kernel(squares.shape[1], core, sigma, derive[axis], at[:, axis]) for axis in (0, 1))
    return np.asarray(down @ squares @ right.swapaxes(1, 2))


def point_in(side: int) -> Squares:
    """Return a square of darkness with one bright point: the squares of a look at it add up to what noise leaves."""
    point = np.zeros((1, side, side), dtype=np.float32)
    point[0, side // 2, side // 2] = 1
    return point


def _kernel(side: int, core: int, sigma: float, derive: int, moved: NDArray[np.float64]) -> NDArray[np.float32]:
    """Return the matrices, shape (n, core, side), that look along one side: each row is the one above moved by one."""
    away = np.arange(1 - core, side)[None, :] - (side - core) / 2 - moved[:, None]
    weight = np.exp(-(away**2) / (2 * sigma**2)) / (sigma * np.sqrt(2 * np.pi))
    factor = (1.0, away / sigma**2, (away**2 / sigma**2 - 1) / sigma**2)[derive]
    rows = np.asarray(weight * factor, dtype=np.float32)
    return np.ascontiguousarray(np.lib.stride_tricks.sliding_window_view(rows, side, axis=1)[:, ::-1])
