"""The strip as a picture to be shown to others: the same part of every rung, by how long the shutter was open."""

from __future__ import annotations

import io
from collections.abc import Callable, Collection, Sequence
from itertools import chain
from math import ceil
from pathlib import Path

from PIL import Image, ImageDraw

from tether.errors import PlanError
from tether.report.axis import Axis, axis_for
from tether.report.choices import read_choices
from tether.report.choosing import Candidate, candidates_of
from tether.report.lettering import EMPTY, GROUND, INK, SOFT, width_of, wrapped, write
from tether.report.said_of_frames import untaken
from tether.report.sheet import FORMATS, ladder_of, save
from tether.report.strip import Part, Pictures, one_per_rung, pictures_of

#: Width of a line of pictures, and of what is left around it; a picture's least and greatest width, the gap beside it;
#: and the greatest height [px].
_ROOM_PX, _EDGE_PX, _LEAST_PX, _MOST_PX, _GAP_PX, _TALLEST_PX = 1680, 36, 150, 640, 12, 640
#: How much taller than wide a picture is: water falls.
_TALL = 1.6
_TITLE_SIZE, _TEXT_SIZE = 40, 24
#: Of a caption's lines: time, rung, choice; and how far apart they stand [px].
CAPTION_SIZES = (30, 24, 24)
_LINE_PX = 34
_CAPTION_PX = 3 * _LINE_PX + 8
#: Of the axis below a line: its height, and of its ticks, at a whole stop and at a frame [px].
_AXIS_PX, _TICK_PX, _FRAME_TICK_PX = 34, 8, 16


def make_strip(
    outing: Path, ladder: int, path: Path, *, rungs: Collection[int] | None = None, part: Part | None = None
) -> None:
    """Make the strip of a ladder and write it.

    Parameters
    ----------
    outing
        The outing; its raw frames are read, nothing in it is changed.
    ladder
        Number of the ladder.
    path
        Where to write, as .jpg or .png.
    rungs
        Which rungs to show; None: all.
    part
        Which part of each frame; None: the water where it is known, else the middle.

    Raises
    ------
    PlanError
        There is no such ladder, no frame to show, no such region, or the ending is another.
    LostError
        The process that decodes frames ended.
    """
    kind = FORMATS.get(path.suffix.lower())
    if kind is None:
        raise PlanError(f"{path}: a strip is written as .jpg or .png; give it one of these endings.")
    story, told = ladder_of(outing, ladder)
    frames = one_per_rung(candidates_of(told, read_choices(outing)), ladder, rungs)
    cells = told.regions.cells if told.regions else ()
    if not frames:
        raise PlanError(f"{outing}: there is no frame of these rungs that could be shown.")

    def made(size: tuple[int, int]) -> Pictures:
        pictures = pictures_of(outing, frames, cells, size, part)
        if not pictures.jpegs:
            raise PlanError(f"{outing}: none of its raw frames is there to be shown; a strip is made of raw frames.")
        return pictures

    missing = untaken(told, {one.rung for one in frames}, rungs)
    title = told.title or f"Ladder {ladder}"
    save(draw_strip(title, frames, made, missing, simulated=story.simulated), path, kind)


def draw_strip(
    title: str,
    frames: Sequence[Candidate],
    made: Callable[[tuple[int, int]], Pictures],
    missing: str = "",
    *,
    simulated: bool,
) -> Image.Image:
    """Draw a strip.

    Parameters
    ----------
    title
        What stands above it.
    frames
        What is shown, the shortest time first.
    made
        Gives the pictures of a width and height [px].
    missing
        Which rungs are not shown, in words: they leave a gap.
    simulated
        Whether no camera took these.
    """
    axis = axis_for([one.at_stops for one in frames], room=_ROOM_PX, least=_LEAST_PX, most=_MOST_PX, gap=_GAP_PX)
    tall = min(round(axis.wide * _TALL), _TALLEST_PX)
    pictures = made((axis.wide, tall))
    head = _heading(title, f"{_told(pictures.words)} {missing}", axis.width, simulated=simulated)
    line_px = axis.rows * (tall + _CAPTION_PX) + _AXIS_PX
    size = axis.width + 2 * _EDGE_PX, head.height + axis.lines * line_px + _EDGE_PX
    strip = Image.new("RGB", size, GROUND)
    strip.paste(head, (_EDGE_PX, 0))
    draw = ImageDraw.Draw(strip)
    for one, place in zip(frames, axis.places, strict=True):
        left = _EDGE_PX + place.left
        top = head.height + place.line * line_px + place.row * (tall + _CAPTION_PX)
        _show(strip, (left, top), (axis.wide, tall), pictures.jpegs.get(one.frame))
        _caption(draw, one, left + axis.wide / 2, top + tall + 8)
    for line in range(axis.lines):
        _axis(draw, axis, line, frames, head.height + (line + 1) * line_px - _AXIS_PX + 6)
    return strip


def _told(part: str) -> str:
    return (
        f"Every rung by how long its shutter was open; a stop is as wide everywhere. Shown is {part}; brightness and "
        "colour are matched by the rock, as far as it was read."
    )


def _heading(title: str, what: str, width: int, *, simulated: bool) -> Image.Image:
    """Return the title and what is shown, broken to the width [px]."""
    mark = "SIMULATED: no camera took these." if simulated else ""
    draw = ImageDraw.Draw(Image.new("RGB", (1, 1)))
    lines = [
        *((line, _TITLE_SIZE, INK, 52) for line in wrapped(draw, title, _TITLE_SIZE, width)),
        *((line, _TEXT_SIZE, INK, _LINE_PX) for line in wrapped(draw, mark, _TEXT_SIZE, width)),
        *((line, _TEXT_SIZE, SOFT, _LINE_PX) for line in wrapped(draw, what, _TEXT_SIZE, width)),
    ]
    head = Image.new("RGB", (width, 24 + sum(height for *_, height in lines) + 20), GROUND)
    draw, top = ImageDraw.Draw(head), 24
    for line, size, ink, height in lines:
        write(draw, (0, top), line, size, ink)
        top += height
    return head


def _show(strip: Image.Image, at: tuple[int, int], size: tuple[int, int], jpeg: bytes | None) -> None:
    """Put a picture in its place, in its middle where it is smaller; the place stays empty where there is none."""
    box = Image.new("RGB", size, EMPTY)
    if jpeg is not None:
        with Image.open(io.BytesIO(jpeg)) as picture:
            box.paste(picture, tuple((room - side) // 2 for room, side in zip(size, picture.size, strict=True)))  # type: ignore[arg-type]
    else:
        write(ImageDraw.Draw(box), (12, 12), "not there", _TEXT_SIZE, SOFT)
    strip.paste(box, at)


def captions(one: Candidate) -> tuple[str, str, str]:
    """Return what stands below a picture: how long it was open, the rung, and what is thought of it."""
    return one.time, f"rung {one.rung}", one.choice.verdict or ""


def _caption(draw: ImageDraw.ImageDraw, one: Candidate, middle: float, top: float) -> None:
    for number, (line, size) in enumerate(zip(captions(one), CAPTION_SIZES, strict=True)):
        left = middle - width_of(draw, line, size) / 2
        write(draw, (left, top + number * _LINE_PX), line, size, INK if number != 1 else SOFT)


def _axis(draw: ImageDraw.ImageDraw, axis: Axis, line: int, frames: Sequence[Candidate], top: int) -> None:
    """Draw the axis of a line: a tick at each whole stop, a longer one for each frame."""
    here = [(one, place) for one, place in zip(frames, axis.places, strict=True) if place.line == line]
    first, middle = axis.firsts[line], _EDGE_PX + axis.wide / 2
    end = max(place.left for _, place in here)
    draw.line((middle, top, middle + end, top), fill=SOFT, width=2)
    last = max(one.at_stops for one, _ in here)
    stops = ((middle + (stop - first) * axis.stop, _TICK_PX) for stop in range(ceil(first), int(last // 1) + 1))
    for at, long in chain(stops, ((middle + place.left, _FRAME_TICK_PX) for _, place in here)):
        draw.line((at, top, at, top + long), fill=INK if long == _FRAME_TICK_PX else SOFT, width=2)
