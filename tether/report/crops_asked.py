"""What a face asks the process that makes crops (`tether.report.crops`), a JSON line each; it loads no library."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True, kw_only=True)
class Shown:
    """A frame and how it is shown.

    Attributes
    ----------
    frame
        The raw file below the outing.
    base
        The raw file by whose balance and matrix all are shown.
    gains
        What red, green and blue are multiplied by.
    """

    frame: str
    base: str
    gains: tuple[float, float, float]


@dataclass(frozen=True, kw_only=True)
class Crop:
    """A part of a frame that is asked for.

    Attributes
    ----------
    of
        The frame.
    centre
        Its middle, as shares of the upright frame's width and height.
    size
        Width and height of the picture [px].
    step
        Pixels of the sensor, along each side, in one of the picture; 0: the whole frame, as large as fits.
    """

    of: Shown
    centre: tuple[float, float]
    size: tuple[int, int]
    step: int


@dataclass(frozen=True, kw_only=True)
class Survey:
    """Asks how large the frames are, and where in them the largest piece of each region is.

    Attributes
    ----------
    frame
        A frame that says how the picture is turned upright.
    cells, letters
        The regions by cells, as the sensor lies, and the letters of the kinds.
    """

    frame: str
    cells: tuple[str, ...]
    letters: str


def line_of(number: int, asked: Crop | Survey) -> bytes:
    """Write a request that is answered under a number."""
    return _line({"id": number, "crop" if isinstance(asked, Crop) else "survey": asdict(asked)})


def prepare_line(frames: Sequence[Shown]) -> bytes:
    """Write which frames are to be prepared, and in which order; what was to be prepared before is forgotten."""
    return _line({"id": 0, "prepare": [asdict(one) for one in frames]})


def asked_of(line: bytes) -> tuple[int, Crop | Survey | tuple[Shown, ...]]:
    """Read a request of ours: its number, and what it asks for; frames: to be prepared, without an answer."""
    data = json.loads(line)
    if "prepare" in data:
        return 0, tuple(_shown(one) for one in data["prepare"])
    if "survey" in data:
        asked = data["survey"]
        return data["id"], Survey(frame=asked["frame"], cells=tuple(asked["cells"]), letters=asked["letters"])
    asked = data["crop"]
    (across, down), (width, height) = asked["centre"], asked["size"]
    crop = Crop(of=_shown(asked["of"]), centre=(across, down), size=(width, height), step=asked["step"])
    return data["id"], crop


def _line(data: dict[str, Any]) -> bytes:
    return json.dumps(data).encode() + b"\n"


def _shown(data: dict[str, Any]) -> Shown:
    red, green, blue = data["gains"]
    return Shown(frame=data["frame"], base=data["base"], gains=(red, green, blue))
