"""What the process that reads frames is asked, and what it answers; light enough for a run to load."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, is_dataclass
from math import isfinite
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from tether.journal.readings import BaseReadings, FrameReadings, HistogramSaid

#: What arithmetic raises that comes to nothing: a singular matrix (which counts as a wrong value), a division by zero.
FAILS = (ArithmeticError, ValueError)


@dataclass(frozen=True, kw_only=True)
class FrameAnswer:
    """What a frame or base frames say; `problem` tells in sentences what of it could not be worked out, or read."""

    frame: FrameReadings | None = None
    histogram: HistogramSaid | None = None
    base: BaseReadings | None = None
    problem: str | None = None


def is_finite(data: Any) -> bool:
    """Say whether every number in a record, or in JSON data, is finite."""
    if isinstance(data, float):
        return isfinite(data)
    if is_dataclass(data):
        return is_finite(vars(data))
    inner: Iterable[Any] = data.values() if isinstance(data, dict) else data if isinstance(data, list | tuple) else ()
    return all(map(is_finite, inner))


class _Asked(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class FrameAsked(_Asked):
    """Read a frame, beside what was kept of the base in the file `against` where that is given.

    `aperture` is its f-number, where that is known: diffraction is not the tripod's fault. `time_s` is how long it was
    open, as far as that is known: base frames are streaked by their share of it.
    """

    what: Literal["frame"] = "frame"
    path: Path
    against: Path | None = None
    aperture: float | None = None
    time_s: float | None = None


class BaseAsked(_Asked):
    """Read base frames; keep in `keep` what later frames are read against.

    `rectangles` are the regions that are given, as for :class:`tether.frames.mosaic.Region`: kind, left, top, right,
    bottom. Of what kind none is given, that is proposed beside them.
    """

    what: Literal["base"] = "base"
    paths: tuple[Path, ...] = Field(min_length=1)
    keep: Path
    aperture: float
    pitch_um: float
    time_s: float
    rectangles: tuple[tuple[Literal["water", "rock", "ignore"], float, float, float, float], ...] = ()


class PictureAsked(_Asked):
    """Draw regions, by their cells, over a frame into the picture `into`, for a person to look at."""

    what: Literal["picture"] = "picture"
    path: Path
    cells: tuple[str, ...]
    into: Path


Asked = FrameAsked | BaseAsked | PictureAsked
AnyAsked = Annotated[Asked, Field(discriminator="what")]


@dataclass(frozen=True, kw_only=True)
class AverageAnswer:
    """What came of averaging a rung beside a run: sentences on what it equals; or in a sentence why there is none."""

    sentences: tuple[str, ...] = ()
    problem: str | None = None
