"""Pictures in the terminal, two pixels a cell; and how two of them are made comparable."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError
from rich.color import Color
from rich.segment import Segment
from rich.style import Style
from textual.geometry import Size
from textual.strip import Strip
from textual.widget import Widget

Picture = NDArray[np.uint8]
"""Shape (h, w, 3), as sRGB."""
#: Values outside these, in linear light, tell nothing of brightness: noise and rounding below, burning out above.
_DARKEST, _BRIGHTEST = 0.004, 0.85
#: A share of pixels that both pictures must have between those, for brightness to be told by them.
_LEAST_SHARE = 0.01


def opened(path: Path) -> Picture | None:
    """Return the picture in a file, or None where there is none that can be read."""
    try:
        with Image.open(path) as picture:
            return np.asarray(picture.convert("RGB"))
    except (OSError, UnidentifiedImageError):
        return None


def cropped(picture: Picture, zoom: int, centre: tuple[float, float]) -> Picture:
    """Return a part of a picture.

    Parameters
    ----------
    picture
        The whole.
    zoom
        How many times narrower and lower the part is; 1: the whole.
    centre
        Where its centre is to be, as shares of width and height from the left upper corner; the part stays inside.
    """
    high, wide = picture.shape[:2]
    part_high, part_wide = max(high // zoom, 1), max(wide // zoom, 1)
    left = min(max(round(centre[0] * wide - part_wide / 2), 0), wide - part_wide)
    top = min(max(round(centre[1] * high - part_high / 2), 0), high - part_high)
    return picture[top : top + part_high, left : left + part_wide]


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
    ours, theirs = _linear(picture), _linear(like)
    both = np.all([(one > _DARKEST) & (one < _BRIGHTEST) for one in (ours, theirs)], axis=(0, 3))
    if both.mean() < _LEAST_SHARE:
        return None
    gain = theirs[both].mean(axis=0) / ours[both].mean(axis=0)
    red, green, blue = (float(one) for one in np.log2(gain))
    return Evened(picture=_encoded(ours * gain), brighter_stops=(red, green, blue))


def _linear(picture: Picture) -> NDArray[np.float64]:
    value = picture / 255.0
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def _encoded(linear: NDArray[np.float64]) -> Picture:
    value = np.clip(linear, 0.0, 1.0)
    srgb = np.where(value <= 0.0031308, value * 12.92, 1.055 * value ** (1 / 2.4) - 0.055)
    encoded: Picture = np.rint(srgb * 255).astype(np.uint8)
    return encoded


def fitted(picture: Picture, columns: int, rows: int) -> Picture:
    """Scale a picture to fit a room of cells, keeping its shape; an even number of pixels high."""
    high, wide = picture.shape[:2]
    scale = min(columns / wide, 2 * rows / high)
    size = max(round(wide * scale), 1), max(round(high * scale / 2), 1) * 2
    return np.asarray(
        Image.fromarray(picture).resize(size, Image.Resampling.BOX if scale < 1 else Image.Resampling.NEAREST)
    )


def in_red(picture: Picture) -> Picture:
    """Return a picture in dark red only, by its luminance (ITU-R BT.709), for eyes that are used to the night."""
    luminance = picture @ np.array([0.2126, 0.7152, 0.0722])
    red = np.zeros_like(picture)
    red[..., 0] = np.rint(luminance * 0.8)
    red[..., 1] = np.rint(luminance * 0.08)
    return red


@dataclass(frozen=True, kw_only=True)
class Outline:
    """A rectangle over a picture, as shares of it: left, top, right, bottom; in dashes of `on` and `off` pixels."""

    box: tuple[float, float, float, float]
    on: int
    off: int


def outlined(pixels: Picture, outlines: Sequence[Outline]) -> Picture:
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
        for at, place in enumerate(edge):
            drawn[place] = 255 if at % (one.on + one.off) < one.on else 0
    return drawn


class HalfBlocks(Widget):
    """Shows a picture, two pixels a cell, in the middle of its room."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self._picture: Picture | None = None
        self._outlines: tuple[Outline, ...] = ()
        self._drawn: tuple[Size, str, list[Strip]] | None = None

    def show(self, picture: Picture | None, outlines: Sequence[Outline] = ()) -> None:
        """Show a picture, rectangles over it; None: nothing."""
        self._picture = picture
        self._outlines = tuple(outlines)
        self._drawn = None
        self.refresh()

    def place_of(self, column: int, row: int) -> tuple[float, float] | None:
        """Return the place in the picture, as shares of its size, that a cell of this widget shows; None: beside it."""
        if self._picture is None:
            return None
        shown = fitted(self._picture, *self.size)
        left, top = (self.size.width - shown.shape[1]) // 2, (self.size.height - shown.shape[0] // 2) // 2
        across, down = (column - left + 0.5) / shown.shape[1], (row - top + 0.5) / (shown.shape[0] / 2)
        return (across, down) if 0 <= across <= 1 and 0 <= down <= 1 else None

    def render_line(self, y: int) -> Strip:
        """Return one line of cells."""
        lines = self._lines()
        row = y - (self.size.height - len(lines)) // 2
        if not 0 <= row < len(lines):
            return Strip.blank(self.size.width, self.rich_style)
        return lines[row]

    def _lines(self) -> list[Strip]:
        if self._drawn is None or self._drawn[:2] != (self.size, self.app.theme):
            self._drawn = (self.size, self.app.theme, self._draw())
        return self._drawn[2]

    def _draw(self) -> list[Strip]:
        if self._picture is None or not self.size:
            return []
        pixels = outlined(fitted(self._picture, *self.size), self._outlines)
        if self.app.theme == "ember":
            pixels = in_red(pixels)
        left = (self.size.width - pixels.shape[1]) // 2
        right = self.size.width - pixels.shape[1] - left
        ground = self.rich_style
        return [
            Strip(
                [
                    Segment(" " * left, ground),
                    *(_cell(above, below) for above, below in zip(pixels[row], pixels[row + 1], strict=True)),
                    Segment(" " * right, ground),
                ],
                self.size.width,
            )
            for row in range(0, pixels.shape[0], 2)
        ]


def _cell(above: Picture, below: Picture) -> Segment:
    return Segment("▀", Style(color=Color.from_rgb(*map(int, above)), bgcolor=Color.from_rgb(*map(int, below))))
