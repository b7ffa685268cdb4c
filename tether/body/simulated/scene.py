"""The scene in front of the simulated body, and the light that comes from it over an opening.

Everything is luminance relative to the still rocks, whose mean in green is 1, as pictures of shape (3, height, width)
in the order red, green, blue. Water is a sum of drifting textures, each seen through an envelope that stands still
(where the water runs, and how thickly); leaves swing in front of all. The picture has a margin of `MARGIN_PX` around
the window that the sensor reads, so that a knock of the tripod brings real scenery in; past it the picture wraps.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tether.body.simulated.brushes import Colour, tinted
from tether.body.simulated.moving import Drifting, Field, Swaying

Picture = NDArray[np.float32]

MARGIN_PX = 40


@dataclass(frozen=True, kw_only=True)
class Motion:
    """How fast things move, in pixels of this sensor and lens.

    Attributes
    ----------
    fall_px_s, run_px_s, pool_px_s
        Speed of the falling, the running and the pooling water [px/s].
    leaves_hz, leaves_px
        Frequency [1/s] and amplitude [px] of the leaves' swing.
    """

    fall_px_s: float
    run_px_s: float
    pool_px_s: float
    leaves_hz: float
    leaves_px: float


@dataclass(frozen=True, kw_only=True)
class Patch:
    """A rectangle of the picture: its first row and column, and its height and width [px]."""

    row: int
    column: int
    shape: tuple[int, int]

    @property
    def slices(self) -> tuple[slice, slice]:
        """Rows and columns of the picture that the patch takes."""
        return slice(self.row, self.row + self.shape[0]), slice(self.column, self.column + self.shape[1])


@dataclass(frozen=True, kw_only=True)
class Water:
    """One drifting texture: where it is, how much of it is seen there (≥ 0), and its colour."""

    patch: Patch
    envelope: Field
    colour: Colour
    texture: Drifting


@dataclass(frozen=True, kw_only=True)
class Leaves:
    """A clump of leaves: where it is, its colour and its swing."""

    patch: Patch
    colour: Colour
    clump: Swaying


@dataclass(frozen=True, kw_only=True)
class Scene:
    """A painted scene.

    Attributes
    ----------
    rest
        All that does not move (water's share left out) [relative luminance], shape (3, height, width).
    waters, leaves
        All that moves.
    still, wet
        Masks over the sensor's window: rocks that nothing moving comes near; places where there is only water.
    """

    rest: Picture
    waters: tuple[Water, ...]
    leaves: tuple[Leaves, ...]
    still: NDArray[np.bool_]
    wet: NDArray[np.bool_]

    def averaged(self, start_s: float, open_s: float) -> Picture:
        """Return the mean luminance over an opening that starts at `start_s` of world time and lasts `open_s`."""
        picture = self.rest.copy()
        for water in self.waters:
            seen = water.envelope * water.texture.averaged(start_s, open_s)
            picture[:, *water.patch.slices] += tinted(seen, water.colour)
        for leaves in self.leaves:
            cover, light = leaves.clump.averaged(start_s, open_s)
            behind = picture[:, *leaves.patch.slices]
            behind *= 1 - cover
            behind += tinted(light, leaves.colour)
        return np.maximum(picture, 0, out=picture)


def window_of(picture: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the part of a painted picture (or field) that the sensor reads."""
    return picture[..., MARGIN_PX:-MARGIN_PX, MARGIN_PX:-MARGIN_PX]
