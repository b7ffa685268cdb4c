"""Regions of a picture: water, rock, and what is neither, on a grid of cells; given as rectangles, or proposed.

A proposal comes from what moves between two short frames beyond the noise. Leaves stir and wet rock glints too, so it
is for a person to confirm.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from tether.files.raw import RawFrame
from tether.frames.mosaic import Kind, Region, channels, planes
from tether.frames.noise import noise_between

Mask = NDArray[np.bool_]

#: The grid: fine enough for a rock in the water, coarse enough that a cell of a small picture still tells noise from
#: movement.
COLUMNS, ROWS = 72, 48
LETTERS: dict[Kind, str] = {"water": "w", "rock": "r", "ignore": "."}
#: A cell moves where its pixels differ by more than so many times the variance that noise alone makes; it is still
#: where they differ by less than the second. Both are further off where a cell has few pixels, by so many standard
#: deviations.
_MOVES, _STILL = 1.6, 1.2
_MOVES_BY, _STILL_BY = 3.0, 2.0
#: The share of cells that is looked for where they agree best on how the light has changed.
_AGREE = 0.3
#: Places that move are water only where so many cells hang together.
_LEAST_CELLS = 12
#: From so many times the noise of a single frame on, all of the picture has moved between two.
_MORE_THAN_NOISE = 1.5
#: Rock has at least this share of the median light of the picture, so that its level can be read.
_LIT = 0.05
#: Movement of water is seen from so many electrons on in both greens (at fewer, up to a twentieth of the rock
#: was wet in simulated scenes), and where detail that stays stands out by so many standard errors over so many cells.
_LEAST_E, _DETAIL, _DETAIL_CELLS = 60.0, 4.0, 3
#: Less rock than this share of the picture is none to go by: it may be all chance.
_LEAST_ROCK = 0.005
#: Where blue is less than this share of what it is beside green elsewhere, it is leaves that move.
_LEAVES_BLUE = 0.6


@dataclass(frozen=True, kw_only=True)
class Regions:
    """What is where in the picture, by cells.

    Attributes
    ----------
    cells
        ROWS texts of COLUMNS letters, from the top left of the mosaic: "w" water, "r" rock, "." neither.

    Raises ValueError where it has another shape or other letters.
    """

    cells: tuple[str, ...]

    def __post_init__(self) -> None:
        if len(self.cells) != ROWS or any(len(row) != COLUMNS or set(row) - set("wr.") for row in self.cells):
            raise ValueError(f"regions are {ROWS} rows of {COLUMNS} letters w, r and .")

    def mask(self, kind: Kind, shape: tuple[int, int]) -> Mask:
        """Return where a kind is, for a plane of this shape (h, w)."""
        marked = self.cell_mask(kind)
        rows, columns = np.diff(_edges(shape[0], ROWS)), np.diff(_edges(shape[1], COLUMNS))
        return np.asarray(np.repeat(np.repeat(marked, rows, axis=0), columns, axis=1))

    def blocks(self, kind: Kind, shape: tuple[int, int]) -> Iterator[tuple[bool, slice, slice]]:
        """Yield a plane of this shape (h, w) in blocks: whether one is of a kind, its rows and its columns."""
        rows, columns = _edges(shape[0], ROWS), _edges(shape[1], COLUMNS)
        for marked, (top, bottom) in zip(self.cell_mask(kind), pairwise(rows), strict=True):
            changes = np.flatnonzero(marked[1:] != marked[:-1]) + 1
            for first, last in pairwise([0, *changes, COLUMNS]):
                yield bool(marked[first]), slice(top, bottom), slice(columns[first], columns[last])

    def cell_mask(self, kind: Kind) -> Mask:
        """Return which cells are of a kind, shape (ROWS, COLUMNS)."""
        return np.array([[letter == LETTERS[kind] for letter in row] for row in self.cells])

    def share(self, kind: Kind) -> float:
        """Return how much of the picture is of a kind, 0 to 1."""
        return float(self.cell_mask(kind).mean())


def given(rectangles: Sequence[Region], beside: Regions | None = None) -> Regions:
    """Return regions as a person gave them; a later rectangle covers an earlier one. A cell counts by its middle.

    Parameters
    ----------
    beside
        What stands for kinds of which no rectangle is given, where none covers it; None: nothing does.
    """
    across, down = (np.arange(COLUMNS) + 0.5) / COLUMNS, (np.arange(ROWS) + 0.5) / ROWS
    letters = np.full((ROWS, COLUMNS), LETTERS["ignore"])
    for kind in ("water", "rock"):
        if beside is not None and kind not in [one.kind for one in rectangles]:
            letters[beside.cell_mask(kind)] = LETTERS[kind]
    for one in rectangles:
        rows = (one.top <= down) & (down < one.bottom)
        columns = (one.left <= across) & (across < one.right)
        letters[np.ix_(rows, columns)] = LETTERS[one.kind]
    return _of(letters)


def proposed(one: RawFrame, other: RawFrame) -> Regions:
    """Propose regions from two short frames with the same settings.

    Water is what moves; rock what does not, is lit, and does not touch what moves, and where there is enough light and
    detail that it could be seen to move. Where the whole picture moves (the tripod was touched between the frames)
    there is no rock.
    """
    first, second = channels(one), channels(other)
    green, again = first["G"], second["G"]
    moving = movement(green, again)
    by_chance = sqrt(2 * ROWS * COLUMNS / green.size)
    stirs = moving > _MOVES + _MOVES_BY * by_chance
    leafy = by_cell(first["B"]) / np.maximum(by_cell(green), 1.0)
    leaves = leafy < _LEAVES_BLUE * float(np.median(leafy))
    wet = stirs & ~leaves
    water = _large(ndimage.binary_closing(wet) | wet)
    near = ndimage.binary_dilation(stirs, iterations=1)
    light = by_cell(green)
    quiet = ndimage.median_filter(moving, 3)  # a single cell may be off by chance
    rock = (quiet < _STILL + _STILL_BY * by_chance) & ~near & ~water & (light > _LIT * np.median(light))
    rock &= _large(_could_be_seen(green, again))
    if _all_moves(one, green, again) or rock.mean() < _LEAST_ROCK:
        rock[:] = False
    letters = np.full((ROWS, COLUMNS), LETTERS["ignore"])
    letters[water], letters[rock] = LETTERS["water"], LETTERS["rock"]
    return _of(letters)


def why_no_rock(one: RawFrame, other: RawFrame) -> str | None:
    """Say why no rock was proposed, where it is for want of light or detail; None where it is not.

    Parameters
    ----------
    one, other
        As for :func:`proposed`.
    """
    first, second = (channels(each)["G"] for each in (one, other))
    if float(np.median(_electrons(first, second))) < _LEAST_E:
        return (
            "No rock is proposed: the base frames are so dark that water could not be seen to move. Mark the rock by"
            " hand, or expose the base longer."
        )
    if not _large(_could_be_seen(first, second)).any():
        return (
            "No rock is proposed: nothing that stands still shows enough detail to be told from even water. Mark the"
            " rock by hand."
        )
    return None


def _could_be_seen(green: NDArray[np.float32], again: NDArray[np.float32]) -> Mask:
    """Return the cells in which something that moves would be seen: they have light, and detail that stays.

    Detail that stays is what two frames' differences from pixel to pixel have in common beyond what noise makes of it;
    even water has none. It is added up over neighbouring cells, since a few pixels tell little.
    """
    products, squares = np.zeros((ROWS, COLUMNS)), np.zeros((ROWS, COLUMNS))
    for axis in (0, 1):
        first, second = (np.diff(plane, axis=axis, append=0) for plane in (green, again))
        edge = [slice(None), slice(None)]
        edge[axis] = slice(-1, None)
        first[tuple(edge)] = second[tuple(edge)] = 0
        products += by_cell(first * second)
        squares += by_cell(first**2 * second**2)
    pixels = green.size / (ROWS * COLUMNS)
    common, spread = (ndimage.uniform_filter(each, _DETAIL_CELLS) for each in (products, squares))
    error = np.sqrt(np.maximum(spread, 0) / (pixels * _DETAIL_CELLS**2))  # a running sum may end just under 0
    lit = ndimage.uniform_filter(_electrons(green, again), _DETAIL_CELLS) >= _LEAST_E
    return np.asarray(lit & (common > _DETAIL * np.maximum(error, 1e-9)))


def _electrons(green: NDArray[np.float32], again: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the light of each cell, in electrons of both green pixels of a place."""
    gain = noise_between(green, again).gain
    return by_cell((green + again) / 2) / max(gain, 1e-6)


def _all_moves(frame: RawFrame, green: NDArray[np.float32], again: NDArray[np.float32]) -> bool:
    """Say whether even the stillest parts differ by more than noise can make of them.

    The two green places of one cell of the pattern differ by noise and by fine texture: noise is no more than that.
    """
    one, other = (plane.values.astype(np.float32) - plane.black for plane in planes(frame) if plane.channel == "G")
    most = by_cell((one - other) ** 2) / 4
    between = noise_between(green, again).variance(by_cell(green))
    return float(np.median(between)) > _MORE_THAN_NOISE * float(np.median(most))


def movement(one: NDArray[np.float32], other: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return how much a cell's pixels differ between two frames, as a multiple of what noise makes of it.

    Parameters
    ----------
    one, other
        The green plane of two frames with the same settings, above black, shape (h, w) [DN].

    Returns
    -------
    Shape (ROWS, COLUMNS); about 1 where nothing moves. A level that changed all over is taken out first.
    """
    other = other / np.float32(_brighter(by_cell(one), by_cell(other)))
    noise = noise_between(one, other)
    squared = (one - other) ** 2
    return np.asarray(by_cell(squared) / (2 * noise.variance(by_cell((one + other) / 2))), dtype=np.float64)


def _brighter(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    """Return by what factor the light changed: the ratio of cells that most of those that agree agree on."""
    ratios = np.sort(np.log(np.maximum(other, 1e-3) / np.maximum(one, 1e-3)).ravel())
    count = max(round(_AGREE * ratios.size), 2)
    closest = int(np.argmin(ratios[count - 1 :] - ratios[: ratios.size - count + 1]))
    return float(np.exp(np.median(ratios[closest : closest + count])))


def _large(marked: Mask) -> Mask:
    """Keep only places of so many cells that hang together."""
    places, count = ndimage.label(marked)
    sizes = ndimage.sum_labels(marked, places, index=np.arange(count + 1))
    return np.asarray(sizes[places] >= _LEAST_CELLS) & marked


def by_cell(plane: NDArray[np.float32] | NDArray[np.float64] | NDArray[np.uint16]) -> NDArray[np.float64]:
    """Return the mean of a plane (h, w) in each cell of the grid, shape (ROWS, COLUMNS)."""
    return _means(_row_sums(plane), plane.shape[0])


def places_by_cell(mosaic: NDArray[np.uint16]) -> tuple[NDArray[np.float64], ...]:
    """Return :func:`by_cell` of the four places of the pattern, row by row.

    Whole rows of the mosaic are added up before its columns are told apart: half the time of four planes.
    """
    height, width = (size // 2 * 2 for size in mosaic.shape)
    sums = [_row_sums(mosaic[down:height:2, :width]) for down in (0, 1)]
    return tuple(_means(one[:, right::2], height // 2) for one in sums for right in (0, 1))


def _row_sums(plane: NDArray[np.float32] | NDArray[np.float64] | NDArray[np.uint16]) -> NDArray[np.float64]:
    """Return the sums over the rows of each row of cells, shape (ROWS, w); reduceat is slower on whole numbers."""
    rows = pairwise(_edges(plane.shape[0], ROWS))
    return np.array([plane[top:bottom].sum(axis=0, dtype=np.float64) for top, bottom in rows])


def _means(row_sums: NDArray[np.float64], height: int) -> NDArray[np.float64]:
    rows, columns = _edges(height, ROWS), _edges(row_sums.shape[1], COLUMNS)
    sums = np.add.reduceat(row_sums, columns[:-1], axis=1)
    return np.asarray(sums / np.outer(np.diff(rows), np.diff(columns)), dtype=np.float64)


def _edges(size: int, count: int) -> NDArray[np.intp]:
    """Return where the cells of an axis begin and end [px]."""
    return np.asarray(np.linspace(0, size, count + 1).round(), dtype=np.intp)


def _of(letters: NDArray[np.str_]) -> Regions:
    return Regions(cells=tuple("".join(row) for row in letters.tolist()))
