"""What later frames of a ladder are read against: the base frames, boiled down to a small file.

Kept are the regions, and the level of every cell in every channel: enough to tell how much brighter or darker the still
parts of a later frame are, without reading the base frames again.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import hypot
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tether.files.errors import UnreadableFileError
from tether.files.raw import RawFrame
from tether.files.safe import safe_write
from tether.frames.mosaic import CHANNELS, planes
from tether.frames.noise import MAD
from tether.frames.patches import Corners, plane_shape
from tether.frames.regions import Regions, places_by_cell
from tether.frames.stillness import Reference, reference
from tether.frames.water import WaterBase, places, water_base
from tether.journal.readings import RockSaid

#: Cells count whose mean is between these shares of the way from black to clipping: neither lost in the noise nor cut.
_DARKEST, _BRIGHTEST = 0.0005, 0.8
#: Where more of the rock's cells than this share are cut, they tell no level (own choice).
_MOST_CUT = 0.5
#: What its darkest cells then say is off by as much [stops]: -0.19 was seen in a frame six stops too bright.
_CUT_DOUBT_STOPS = 0.2
#: So many cells at least make a level.
_LEAST_CELLS = 8
#: Cells whose ratio is off by more than so many times the usual are left out.
_ODD = 3.5
#: Shadows count as lifted from so many standard errors, and from this share of the mean level on.
_SURE, _LIFTED = 4.0, 0.02

#: What names of the texture's arrays begin with in a file.
_STILL, _WATER = "still_", "water_"
_NUMBERS = ("clips_at", "aperture", "pitch_um", "time_s")

Cells = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Against:
    """What later frames are read against.

    Attributes
    ----------
    regions
        What is where.
    cells
        Mean of each cell as a share of the way from black to clipping, shape (3, ROWS, COLUMNS), red, green, blue.
    clips_at
        The raw level from which on pixels clip [DN].
    still
        What is kept of the still parts' texture; None: too little of it.
    water
        What is kept of the water's texture; None: too little of it, or only one base frame.
    wet, dry
        Places in water and rock where texture is looked at (:func:`~tether.frames.water.places`); None: too few.
    aperture, pitch_um
        f-number of the base frames, and the sensor's pixel pitch [µm].
    time_s
        Their exposure time [s].
    """

    regions: Regions
    cells: Cells
    clips_at: int
    still: Reference | None
    water: WaterBase | None
    wet: Corners | None
    dry: Corners | None
    aperture: float
    pitch_um: float
    time_s: float

    def save(self, path: Path) -> None:
        """Write it to a file. Raises SupplyError, LostError as safe writing does."""
        file = io.BytesIO()
        numbers = {name: getattr(self, name) for name in _NUMBERS}
        arrays: dict[str, Any] = {"regions": np.array(self.regions.cells), "cells": self.cells, **numbers}
        for prefix, texture in ((_STILL, self.still), (_WATER, self.water)):
            if texture is not None:
                arrays |= {f"{prefix}{name}": kept for name, kept in texture.arrays().items()}
        arrays |= {name: found for name, found in (("wet", self.wet), ("dry", self.dry)) if found is not None}
        np.savez(file, **arrays)
        safe_write(path, file.getvalue())

    @classmethod
    def load(cls, path: Path) -> Against:
        """Read it back. Raises UnreadableFileError."""
        try:
            with np.load(path) as kept:
                still, water = (_named(kept, prefix) for prefix in (_STILL, _WATER))
                return cls(
                    regions=Regions(cells=tuple(str(row) for row in kept["regions"])),
                    cells=kept["cells"],
                    still=Reference.from_arrays(still) if still else None,
                    water=WaterBase.from_arrays(water) if water else None,
                    wet=kept.get("wet"),
                    dry=kept.get("dry"),
                    **{name: kept[name].item() for name in _NUMBERS},
                )
        except (OSError, EOFError, ValueError, KeyError, zipfile.BadZipFile) as error:
            raise UnreadableFileError(f"{path} can't be read as what later frames are read against.") from error


def boiled_down(
    frames: Sequence[RawFrame], regions: Regions, clips_at: int, *, aperture: float, pitch_um: float, time_s: float
) -> Against:
    """Return what later frames are read against, from base frames with the same settings (their mean)."""
    shape = plane_shape(frames[0])
    water, rock = regions.mask("water", shape), regions.mask("rock", shape)
    return Against(
        regions=regions,
        cells=np.mean([cells_of(frame, clips_at) for frame in frames], axis=0),
        clips_at=clips_at,
        still=reference(frames[0], rock),
        water=water_base(frames[0], frames[1], water) if len(frames) > 1 else None,
        wet=places(water),
        dry=places(rock),
        aperture=aperture,
        pitch_um=pitch_um,
        time_s=time_s,
    )


def _named(kept: Mapping[str, NDArray[Any]], prefix: str) -> dict[str, NDArray[Any]]:
    return {name.removeprefix(prefix): kept[name] for name in kept if name.startswith(prefix)}


def cells_of(frame: RawFrame, clips_at: int) -> Cells:
    """Return each cell's mean as a share of the way from black to clipping, shape (3, ROWS, COLUMNS)."""
    parts: dict[str, list[Cells]] = {channel: [] for channel in CHANNELS}
    for plane, means in zip(planes(frame), places_by_cell(frame.mosaic), strict=True):
        parts[plane.channel].append((means - plane.black) / (clips_at - plane.black))
    return np.array([np.mean(parts[channel], axis=0) for channel in CHANNELS])


def compared(cells: Cells, against: Against) -> RockSaid | None:
    """Return a frame's still parts beside the base's; None where too few cells can be compared.

    Parameters
    ----------
    cells
        As :func:`cells_of` gives them.
    """
    rock = against.regions.cell_mask("rock")
    good = rock & _readable(cells) & _readable(against.cells)
    if good.sum() < _LEAST_CELLS:
        return None
    ratios = np.log2(cells[1][good] / against.cells[1][good])
    usual = float(np.median(ratios))
    scatter = max(MAD * float(np.median(np.abs(ratios - usual))), 1e-4)
    kept = np.abs(ratios - usual) <= _ODD * scatter
    now, base = cells[:, good][:, kept], against.cells[:, good][:, kept]
    red, green, blue = (float(np.log2(one.sum() / other.sum())) for one, other in zip(now, base, strict=True))
    doubt = scatter / float(np.sqrt(kept.sum()))
    return RockSaid(
        brighter_stops={"R": red, "G": green, "B": blue},
        uncertainty_stops=hypot(doubt, _CUT_DOUBT_STOPS) if rock_clips(cells, against) else doubt,
        lifted_share=_lifted(now[1], base[1]),
    )


def rock_clips(cells: Cells, against: Against) -> bool:
    """Say whether most of what stands still is clipped in a frame: what is left of it are its darkest cells alone."""
    rock = against.regions.cell_mask("rock") & _readable(against.cells)
    cut = (cells[:, rock] >= _BRIGHTEST).any(axis=0)
    return bool(cut.size) and float(cut.mean()) > _MOST_CUT


def _readable(cells: Cells) -> NDArray[np.bool_]:
    return np.asarray(((cells > _DARKEST) & (cells < _BRIGHTEST)).all(axis=0))


def _lifted(now: Cells, base: Cells) -> float:
    """Return what is added to all cells, as a share of their mean, by a line through them."""
    (slope, added), spread = np.polyfit(base, now, 1, cov=True)
    share = float(added / now.mean())
    sure = slope > 0 and added > _SURE * float(np.sqrt(spread[1, 1]))
    return share if sure and share > _LIFTED else 0.0
