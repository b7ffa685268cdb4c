"""Pictures in the terminal, two pixels a cell; and how two of them are made comparable."""

from __future__ import annotations

import contextlib
import ctypes
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from tether.desk.half_blocks import Cut
from tether.editor.messages import DraftRegion, RegionKind

Picture = NDArray[np.uint8]
"""Shape (h, w, 3), as sRGB."""
#: Values outside these, in linear light, tell nothing of brightness: noise and rounding below, burning out above.
_DARKEST, _BRIGHTEST = 0.004, 0.85
#: A share of pixels that both pictures must have between those, for brightness to be told by them.
_LEAST_SHARE = 0.01
#: How much of its light a picture keeps under marks, and how far apart these are [px].
_DIMMED, _STROKE_EVERY = 0.62, 4
#: How water, rock and what is left out are outlined: dashes on and off [px]. Told apart by shape, not by colour.
DASHES: dict[RegionKind, tuple[int, int]] = {"water": (6, 2), "rock": (1, 2), "ignore": (2, 4)}
#: Memory of so many bytes is taken from the system by itself, so that it goes back when it is let go (GNU C library,
#: mallopt(3): M_MMAP_THRESHOLD); else this grows with each picture, and what was between pictures stays taken.
_GOES_BACK_FROM, _MMAP_THRESHOLD = 128 * 1024, -3
with contextlib.suppress(OSError, AttributeError):
    ctypes.CDLL(None).mallopt(_MMAP_THRESHOLD, _GOES_BACK_FROM)


def opened(path: Path) -> Picture | None:
    """Return the picture in a file, or None where there is none that can be read."""
    try:
        with Image.open(path) as picture:
            return np.asarray(picture.convert("RGB"))
    except (OSError, UnidentifiedImageError):
        return None


def decoded(jpeg: bytes) -> Picture:
    """Return the picture of a JPEG that is whole."""
    with Image.open(io.BytesIO(jpeg)) as picture:
        return np.asarray(picture.convert("RGB"))


def box_of(picture: Picture, cut: Cut, columns: int, rows: int) -> tuple[int, int, int, int]:
    """Return the part of a picture that is shown in a room of cells: left, top, right, bottom [px]."""
    high, wide = picture.shape[:2]
    part_wide, part_high = wide / cut.zoom, high / cut.zoom
    if cut.fill and columns and rows:
        scale = max(columns / part_wide, 2 * rows / part_high)
        part_wide, part_high = min(columns / scale, wide), min(2 * rows / scale, high)
    across, down = max(round(part_wide), 1), max(round(part_high), 1)
    left = min(max(round(cut.centre[0] * wide - across / 2), 0), wide - across)
    top = min(max(round(cut.centre[1] * high - down / 2), 0), high - down)
    return left, top, left + across, top + down


def within(picture: Picture, box: tuple[int, int, int, int]) -> Picture:
    """Return a part of a picture."""
    left, top, right, bottom = box
    return picture[top:bottom, left:right]


@dataclass(frozen=True, kw_only=True)
class Evened:
    """A picture made like another, and by how much it was made brighter in red, green and blue [stops]."""

    picture: Picture
    brighter_stops: tuple[float, float, float]


def evened(picture: Picture, like: Picture) -> Evened | None:
    """Even out brightness and cast: give a picture, channel by channel, the mean of another of the same scene.

    The means are taken in linear light (IEC 61966-2-1) over the pixels that are neither dark nor burnt in either, so
    that what burnt out in one alone does not count.

    Parameters
    ----------
    picture, like
        Of one size; the whole pictures, so that what is shown does not depend on the part that is looked at.

    Returns
    -------
    Evened or None
        None where the two have too little in common to tell, or are not of one size.
    """
    if picture.shape != like.shape:
        return None
    light = _linear(np.arange(256) / 255.0)
    tells = (light > _DARKEST) & (light < _BRIGHTEST)
    both = tells[picture].all(axis=2) & tells[like].all(axis=2)
    if both.mean() < _LEAST_SHARE:
        return None
    gain = _sums(like[both], light) / _sums(picture[both], light)
    red, green, blue = (float(one) for one in np.log2(gain))
    brighter = _encoded(light[:, None] * gain)
    made = np.stack([brighter[:, channel][picture[..., channel]] for channel in range(3)], axis=2)
    return Evened(picture=made, brighter_stops=(red, green, blue))


def _sums(pixels: Picture, light: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the light of all pixels by channel, by how often each value is there: fractions of all take much room."""
    counts = [np.bincount(pixels[:, channel], minlength=light.size) for channel in range(3)]
    sums: NDArray[np.float64] = np.array(counts) @ light
    return sums


def _linear(value: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def _encoded(linear: NDArray[np.float64]) -> Picture:
    value = np.clip(linear, 0.0, 1.0)
    srgb = np.where(value <= 0.0031308, value * 12.92, 1.055 * value ** (1 / 2.4) - 0.055)
    encoded: Picture = np.rint(srgb * 255).astype(np.uint8)
    return encoded


def room_for(picture: Picture, columns: int, rows: int) -> tuple[int, int]:
    """Return how wide and high a picture is in a room of cells, keeping its shape [px]; an even number high."""
    high, wide = picture.shape[:2]
    scale = min(columns / wide, 2 * rows / high)
    return max(round(wide * scale), 1), max(round(high * scale / 2), 1) * 2


def sized(picture: Picture, wide: int, high: int) -> Picture:
    """Scale a picture to a size [px]."""
    way = Image.Resampling.BOX if wide < picture.shape[1] else Image.Resampling.NEAREST
    return np.asarray(Image.fromarray(picture).resize((wide, high), way))


def over(picture: Picture, other: Picture) -> Picture:
    """Return two pictures one over the other, half of each, in the size of the first."""
    high, wide = picture.shape[:2]
    laid = Image.fromarray(other).resize((wide, high), Image.Resampling.BILINEAR)
    return np.asarray(Image.blend(Image.fromarray(picture), laid, 0.5))


def in_red(picture: Picture) -> Picture:
    """Return a picture in dark red only, by its luminance (ITU-R BT.709), for eyes that are used to the night."""
    luminance = picture @ np.array([0.2126, 0.7152, 0.0722])
    red = np.zeros_like(picture)
    red[..., 0] = np.rint(luminance * 0.8)
    red[..., 1] = np.rint(luminance * 0.08)
    return red


def marked(pixels: Picture, cells: Sequence[str]) -> Picture:
    """Return pixels, dimmed, with marks over them, told apart by shape: standing strokes over water, dots over rock.

    `cells`: rows of letters as they lie over the picture, "w" water, "r" rock.
    """
    drawn = np.asarray(pixels * _DIMMED, dtype=np.uint8)
    high, wide = drawn.shape[:2]
    letters = np.array([list(row) for row in cells])
    rows, columns = (np.arange(size) * count // size for size, count in zip((high, wide), letters.shape, strict=True))
    here = letters[np.ix_(rows, columns)]
    across, down = np.arange(wide) % _STROKE_EVERY, np.arange(high) % _STROKE_EVERY
    middle = _STROKE_EVERY // 2
    drawn[(here == "w") & (across == middle)] = 255
    drawn[(here == "r") & (across == middle) & (down == middle)[:, None]] = 255
    return drawn


def outlined(pixels: Picture, outlines: Sequence[DraftRegion]) -> Picture:
    """Return pixels with rectangles over them, white where dashes are and black between, to be seen on any ground."""
    drawn = pixels.copy()
    high, wide = pixels.shape[:2]
    for one in outlines:
        left, top, right, bottom = one.box
        columns = range(round(left * (wide - 1)), round(right * (wide - 1)) + 1)
        rows = range(round(top * (high - 1)), round(bottom * (high - 1)) + 1)
        edge = [
            *((rows[0], column) for column in columns),
            *((row, columns[-1]) for row in rows[1:]),
            *((rows[-1], column) for column in reversed(columns[:-1])),
            *((row, columns[0]) for row in reversed(rows[1:-1])),
        ]
        on, off = DASHES[one.what]
        for at, place in enumerate(edge):
            drawn[place] = 255 if at % (on + off) < on else 0
    return drawn
