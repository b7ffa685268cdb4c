"""A sheet to choose by: one picture a rung, each with what it was really taken with."""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from PIL import Image, ImageDraw, ImageOps

from tether import wording as words
from tether.errors import PlanError
from tether.files.safe import safe_write
from tether.journal.story import FrameStory, LadderStory, Outing
from tether.journal.telling import read_outing
from tether.report.choices import read_choices
from tether.report.lettering import EMPTY, GROUND, INK, SOFT, cut, write
from tether.report.said_of_frames import changed, named, opened, untaken
from tether.report.sheet_page import preview_of, sheet_page
from tether.report.strip import Part

_SHEET_WIDTH_PX = 2400
_GAP_PX = 36
_HEAD_PX = 128
_LINE_PX = 36
_CAPTION_PX = 4 * _LINE_PX + 14
_PAGES = (".html", ".htm")
#: The pictures that can be written, by their endings.
FORMATS = {".jpg": "JPEG", ".jpeg": "JPEG", ".png": "PNG"}


@dataclass(frozen=True, kw_only=True)
class _Grid:
    """How many pictures stand beside each other, and how large each may be [px]."""

    columns: int
    width: int
    height: int

    def corner(self, place: int) -> tuple[int, int]:
        row, column = divmod(place, self.columns)
        left = _GAP_PX + column * (self.width + _GAP_PX)
        return left, _HEAD_PX + row * (self.height + _CAPTION_PX + _GAP_PX)

    def sheet_size(self, count: int) -> tuple[int, int]:
        return _SHEET_WIDTH_PX, self.corner(self.columns * math.ceil(count / self.columns))[1]


def make_sheet(
    outing_folder: Path, ladder: int, path: Path, *, rungs: Iterable[int] | None = None, part: Part | None = None
) -> None:
    """Make a sheet of a ladder's rungs and write it.

    Parameters
    ----------
    outing_folder
        The outing; its previews are used, nothing in it is changed.
    ladder
        Number of the ladder.
    path
        Where to write; the ending decides the format: .jpg and .png are a picture with one frame a rung, .html is a
        page with all of them.
    rungs
        Which rungs to show; None: all that have a frame.
    part
        Which part of each frame a page's strip shows; None: the water where it is known, else the middle.

    Raises
    ------
    PlanError
        If there is no such ladder, none of its rungs has a frame, no such region, or the ending is another.
    LostError
        If the process that decodes frames ended.
    """
    kind = FORMATS.get(path.suffix.lower())
    if kind is None and path.suffix.lower() not in _PAGES:
        raise PlanError(f"{path}: a sheet is written as .jpg, .png or .html; give it one of these endings.")
    outing, told = ladder_of(outing_folder, ladder)
    wanted = None if rungs is None else set(rungs)
    frames = _to_show(told, wanted)
    if not frames:
        raise PlanError(f"{outing_folder}: none of the rungs asked for has a frame yet.")
    if kind is None:
        safe_write(path, sheet_page(outing_folder, outing, told, read_choices(outing_folder), wanted, part))
        return
    missing = untaken(told, {frame.rung for frame in frames}, wanted)
    save(_draw(outing_folder, told, frames, missing, outing.simulated), path, kind)


def ladder_of(folder: Path, number: int) -> tuple[Outing, LadderStory]:
    """Read an outing and one of its ladders. Raises PlanError if there is no such ladder."""
    outing = read_outing(folder)
    told = outing.ladder(number)
    if told is None:
        known = ", ".join(str(one.ladder) for one in outing.ladders) or "none"
        raise PlanError(f"{folder}: there is no ladder {number} in this outing; there are: {known}.")
    return outing, told


def save(picture: Image.Image, path: Path, kind: str) -> None:
    """Write a picture in one of the kinds of `FORMATS`."""
    file = io.BytesIO()
    picture.save(file, kind, quality=92)
    safe_write(path, file.getvalue())


def _to_show(ladder: LadderStory, rungs: set[int] | None) -> list[FrameStory]:
    """Choose one frame a rung, shortest time first: the last whole one with a preview, else the best there is."""
    chosen: dict[int, FrameStory] = {}
    for frame in ladder.frames:
        if frame.kind != "rung" or frame.rung is None or (rungs is not None and frame.rung not in rungs):
            continue
        if frame.rung not in chosen or _worth(frame) >= _worth(chosen[frame.rung]):
            chosen[frame.rung] = frame
    if rungs is not None and rungs - set(chosen):
        missing = ", ".join(str(rung) for rung in sorted(rungs - set(chosen)))
        known = ", ".join(str(rung) for rung in sorted({one.rung for one in ladder.frames if one.rung is not None}))
        raise PlanError(f"--rungs: no frame of rung {missing}; there are frames of: {known}.")
    return sorted(chosen.values(), key=lambda frame: (frame.planned.time_s or 0.0, frame.rung or 0))


def _worth(frame: FrameStory) -> tuple[bool, bool]:
    return frame.preview is not None, frame.outcome == "made"


def _grid(count: int, ratio: float) -> _Grid:
    """Choose the columns so that the sheet comes near to a page three by two; up to three frames stand in a row."""
    columns = count if count <= 3 else min(math.ceil(math.sqrt(count * 1.5 / ratio)), 6)
    width = (_SHEET_WIDTH_PX - _GAP_PX * (columns + 1)) // columns
    return _Grid(columns=columns, width=width, height=round(width / ratio))


def _draw(
    folder: Path, ladder: LadderStory, frames: Sequence[FrameStory], missing: str, simulated: bool
) -> Image.Image:
    pictures = [preview_of(folder, frame) for frame in frames]
    ratio = next((one.width / one.height for one in pictures if one is not None), 1.5)
    grid = _grid(len(frames), ratio)
    sheet = Image.new("RGB", grid.sheet_size(len(frames)), GROUND)
    draw = ImageDraw.Draw(sheet)
    _heading(draw, ladder, missing, simulated)
    for place, (frame, picture) in enumerate(zip(frames, pictures, strict=True)):
        left, top = grid.corner(place)
        if picture is None:
            _empty(draw, grid, left, top)
        else:
            picture = ImageOps.contain(picture, (grid.width, grid.height), Image.Resampling.LANCZOS)
            sheet.paste(picture, (left, top + grid.height - picture.height))
        _caption(draw, frame, ladder, (left, top + grid.height + 12), grid.width)
    return sheet


def _heading(draw: ImageDraw.ImageDraw, ladder: LadderStory, missing: str, simulated: bool) -> None:
    write(draw, (_GAP_PX, 24), ladder.title or f"Ladder {ladder.ladder}", 44, INK)
    what = f"One frame a rung, with what it was really taken with. {missing}".strip()
    what = f"SIMULATED: no camera took these. {what}" if simulated else what
    line = cut(draw, what, 28, _SHEET_WIDTH_PX - 2 * _GAP_PX)
    write(draw, (_GAP_PX, 80), line, 28, INK if simulated else SOFT)


def _empty(draw: ImageDraw.ImageDraw, grid: _Grid, left: int, top: int) -> None:
    draw.rectangle((left, top, left + grid.width - 1, top + grid.height - 1), fill=EMPTY)
    write(draw, (left + 24, top + 20), "no preview", 28, SOFT)


def _caption(
    draw: ImageDraw.ImageDraw, frame: FrameStory, ladder: LadderStory, at: tuple[int, int], width: int
) -> None:
    settings = (opened(frame, ladder), words.aperture(frame.aperture), f"ISO {words.iso(frame.iso)}")
    lines = (f"{frame.rung}   {named(frame, ladder)}", "   ".join(filter(None, settings)), _filters(frame), _set(frame))
    for number, line in enumerate(lines):
        size, ink, down = (26, SOFT, 4) if number else (34, INK, 0)
        write(draw, (at[0], at[1] + number * _LINE_PX + down), cut(draw, line, size, width), size, ink)


def _set(frame: FrameStory) -> str:
    """Say whether it was set as planned."""
    return "difference not known" if frame.difference_stops is None else changed(frame) or "set as planned"


def _filters(frame: FrameStory) -> str:
    if not frame.filters:
        return "no filter"
    return f"{words.filters(frame.filters)} ({words.count(frame.filter_stops)} stops)"
