"""The mosaic as its channels: black subtracted, white known."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tether.files.raw import RawFrame

Channel = Literal["R", "G", "B"]
CHANNELS: tuple[Channel, ...] = ("R", "G", "B")

Kind = Literal["water", "rock", "ignore"]


@dataclass(frozen=True, kw_only=True)
class Region:
    """A rectangle of the picture, as shares of its width and height (0 left or top, 1 right or bottom).

    Raises ValueError where it is empty or reaches beyond the picture.
    """

    kind: Kind
    left: float
    top: float
    right: float
    bottom: float

    def __post_init__(self) -> None:
        if not (0 <= self.left < self.right <= 1 and 0 <= self.top < self.bottom <= 1):
            raise ValueError("a region lies within 0 to 1, its left before its right and its top above its bottom")


@dataclass(frozen=True, kw_only=True)
class Plane:
    """One of the four places of the pattern: its channel, its raw numbers (h, w), and its black level."""

    channel: Channel
    values: NDArray[np.uint16]
    black: float


def planes(frame: RawFrame) -> Iterator[Plane]:
    """Yield the four places of the pattern, on whole cells of it; views, nothing is copied."""
    height, width = (size // 2 * 2 for size in frame.mosaic.shape)
    part = frame.mosaic[:height, :width]
    for place, colour in enumerate(frame.pattern):
        down, right = divmod(place, 2)
        yield Plane(channel=_channel(colour), values=part[down::2, right::2], black=frame.black[place])


def _channel(colour: str) -> Channel:
    return "R" if colour == "R" else "B" if colour == "B" else "G"


def channels(frame: RawFrame) -> dict[Channel, NDArray[np.float32]]:
    """Return the three channels above black, shape (h, w) each [DN]; green is the mean of its two places."""
    found: dict[Channel, list[NDArray[np.float32]]] = {channel: [] for channel in CHANNELS}
    for plane in planes(frame):
        found[plane.channel].append(plane.values.astype(np.float32) - np.float32(plane.black))
    return {
        channel: parts[0] if len(parts) == 1 else (parts[0] + parts[1]) * np.float32(0.5)
        for channel, parts in found.items()
    }
