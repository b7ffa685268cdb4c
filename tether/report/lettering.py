"""Words on pictures that are drawn: sheet and strip, on a dark neutral grey."""

from __future__ import annotations

from PIL import ImageDraw, ImageFont

from tether.report.harmless import plain
from tether.wording import in_lines

Ink = tuple[int, int, int]

#: A dark neutral grey, so that the pictures are judged beside no colour and no glare.
GROUND, EMPTY, INK, SOFT = (38, 38, 38), (58, 58, 58), (238, 238, 238), (178, 178, 178)


def write(draw: ImageDraw.ImageDraw, at: tuple[float, float], text: str, size: int, ink: Ink) -> None:
    """Write a line, its left upper corner at a place [px]."""
    draw.text(at, plain(text), font=ImageFont.load_default(size), fill=ink)


def width_of(draw: ImageDraw.ImageDraw, text: str, size: int) -> float:
    """Return how wide a line is [px]."""
    return draw.textlength(plain(text), font=ImageFont.load_default(size))


def cut(draw: ImageDraw.ImageDraw, text: str, size: int, width: int) -> str:
    """Shorten a line to the width [px] at hand."""
    if width_of(draw, text, size) <= width:
        return text
    while text and width_of(draw, f"{text}...", size) > width:
        text = text[:-1]
    return f"{text}..."


def wrapped(draw: ImageDraw.ImageDraw, text: str, size: int, width: int) -> list[str]:
    """Break a text at its spaces into lines no wider than a width [px], a longer word alone in its line."""
    return in_lines(text.split(), lambda line: width_of(draw, line, size) <= width)
