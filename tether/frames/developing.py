"""A part of a raw frame as a picture to look at, all frames of a ladder alike: matched in brightness and colour.

Nothing is judged by these pictures but by eye, so the colours between the sensor's places are the means of their
neighbours, weighed by how near they are (bilinear), and no sharpening, no curve and no noise reduction is applied.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import convolve1d

from tether.files.raw import RawFrame

Picture = NDArray[np.uint8]
Picture16 = NDArray[np.uint16]
Light = NDArray[np.float32]

#: sRGB's curve from linear light, in so many steps (IEC 61966-2-1:1999).
_STEPS = 4096
_FULL_16 = 65535
#: Neighbours that a place is filled from, along each axis.
_NEAR = np.array([0.5, 1.0, 0.5], dtype=np.float32)


@dataclass(frozen=True, kw_only=True)
class Look:
    """How a frame is shown beside the others.

    Attributes
    ----------
    gains
        What red, green and blue of its sensor are multiplied by, so that still parts look as in the base.
    balance, to_srgb
        As the first frame was balanced, and the way to sRGB; see :class:`tether.files.raw.RawHeader`.
    """

    gains: tuple[float, float, float]
    balance: tuple[float, float, float]
    to_srgb: NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Box:
    """A part of an upright frame [px]: left and top belong to it, right and bottom do not."""

    left: int
    top: int
    right: int
    bottom: int


def upright(raw: RawFrame, left_turns: int) -> RawFrame:
    """Return a frame after so many quarter turns to the left, of an even number of rows and columns."""
    height, width = (side - side % 2 for side in raw.mosaic.shape)
    places = np.rot90(np.arange(4).reshape(2, 2), left_turns).ravel()
    top_left, top_right, bottom_left, bottom_right = (raw.black[place] for place in places)
    return replace(
        raw,
        mosaic=np.rot90(raw.mosaic[:height, :width], left_turns),
        pattern="".join(raw.pattern[place] for place in places),
        black=(top_left, top_right, bottom_left, bottom_right),
    )


def shown(raw: RawFrame, look: Look, box: Box, step: int) -> Picture:
    """Return a part of an upright frame as a picture in sRGB.

    Parameters
    ----------
    box
        The part; it lies in the frame.
    step
        Pixels of the sensor, along each side, in one of the picture: 1, or an even number.

    Returns
    -------
    Picture
        Shape (rows, columns, 3); rows and columns of the box that make no whole pixel of the picture are left out.
    """
    light = _between(raw, box) if step == 1 else _averaged(raw, box, step)
    picture: Picture = _CURVE[np.clip(_linear(light, look) * (_STEPS - 1) + 0.5, 0, _STEPS - 1).astype(np.uint16)]
    return picture


def bands(raw: RawFrame, look: Look, rows: int) -> Iterator[Picture]:
    """Yield a whole upright frame in bands of so many rows, the last with what is left, shape (rows, columns, 3)."""
    height, width = raw.mosaic.shape
    for top in range(0, height, rows):
        yield shown(raw, look, Box(left=0, top=top, right=width, bottom=min(top + rows, height)), 1)


def bands_16(raw: RawFrame, look: Look, rows: int) -> Iterator[Picture16]:
    """Yield a whole upright frame as :func:`bands` does, in steps of 16 bits."""
    height, width = raw.mosaic.shape
    for top in range(0, height, rows):
        light = _between(raw, Box(left=0, top=top, right=width, bottom=min(top + rows, height)))
        linear = np.clip(_linear(light, look), 0, 1)
        yield np.asarray(np.round(_FULL_16 * _curved(linear)), dtype=np.uint16)


def _values(raw: RawFrame, top: int, bottom: int, left: int, right: int) -> Light:
    """Return how much light the places of a part got, 0 black to 1 clipping; it begins at an even row and column."""
    part = raw.mosaic[top:bottom, left:right].astype(np.float32)
    for place, (channel, black) in enumerate(zip(raw.pattern, raw.black, strict=True)):
        down, across = divmod(place, 2)
        of = part[down::2, across::2]
        of -= black
        of /= raw.white_of(channel) - black
    return part


def _between(raw: RawFrame, box: Box) -> Light:
    """Return red, green and blue at every place of a part, shape (h, w, 3); what is missing comes from neighbours."""
    height, width = raw.mosaic.shape
    top, left = max(box.top - 2, 0) & ~1, max(box.left - 2, 0) & ~1
    bottom, right = min(box.bottom + 2, height), min(box.right + 2, width)
    values = _values(raw, top, bottom, left, right)
    inner = slice(box.top - top, box.bottom - top), slice(box.left - left, box.right - left)
    found = np.empty((box.bottom - box.top, box.right - box.left, 3), dtype=np.float32)
    for number, channel in enumerate("RGB"):
        has = np.zeros_like(values)
        for place, of in enumerate(raw.pattern):
            if of == channel:
                has[place // 2 :: 2, place % 2 :: 2] = 1
        found[..., number] = (_spread(values * has) / np.maximum(_spread(has), 1e-6))[inner]
    return found


def _spread(values: Light) -> Light:
    along: Light = convolve1d(values, _NEAR, axis=0, mode="constant")
    across: Light = convolve1d(along, _NEAR, axis=1, mode="constant")
    return across


def _averaged(raw: RawFrame, box: Box, step: int) -> Light:
    """Return red, green and blue over squares of so many places, shape (h // step, w // step, 3)."""
    top, left = box.top & ~1, box.left & ~1
    rows, columns = (box.bottom - box.top) // step, (box.right - box.left) // step
    bottom, right = top + rows * step, left + columns * step
    values = _values(raw, top, bottom, left, right)
    found = np.zeros((rows, columns, 3), dtype=np.float32)
    half = step // 2
    for place, channel in enumerate(raw.pattern):
        of = values[place // 2 :: 2, place % 2 :: 2].reshape(rows, half, columns, half).mean(axis=(1, 3))
        found[..., "RGB".index(channel)] += of / raw.pattern.count(channel)
    return found


def _linear(light: Light, look: Look) -> Light:
    """Return linear sensor colours as linear sRGB; what clips has no colour of its own."""
    balance = np.array(look.balance, dtype=np.float32)
    balanced = np.clip(light * balance, 0, balance.min())
    linear: Light = (balanced * np.array(look.gains, dtype=np.float32)) @ look.to_srgb.T.astype(np.float32)
    return linear


def _curved(linear: Light) -> Light:
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)


_CURVE: Picture = np.asarray(np.round(255 * _curved(np.linspace(0, 1, _STEPS, dtype=np.float32))), dtype=np.uint8)
