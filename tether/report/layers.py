"""Two exposures for one print: the water of one frame and the rest of another, as pictures that match, with a mask."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import hypot, log2
from pathlib import Path

import numpy as np

from tether import wording as words
from tether.errors import PlanError
from tether.files.dng import exif_fields
from tether.files.errors import disk_sentences
from tether.files.preview import srgb_profile
from tether.files.raw import RawFrame, RawHeader, read_with_header
from tether.files.tiff import write_tiff
from tether.frames.developing import Look, bands_16, upright
from tether.frames.layers import Match, SoftMask, matched
from tether.frames.regions import Regions
from tether.journal.story import FrameStory, Outing
from tether.report.choosing import file_of
from tether.report.facts import facts_of

#: Rows that are developed at a time.
_BAND = 256
_FULL = 65535
#: Exif's word for colours of sRGB (CIPA DC-008, ColorSpace).
_SRGB = {"Exif.Photo.ColorSpace": "1"}
#: A shift from this on is told: less is not seen in a print [px].
_SHIFT_PX = 0.5


@dataclass(frozen=True, kw_only=True)
class Layers:
    """What came of it: the files of water, rest and mask, and sentences on how they match."""

    files: tuple[Path, Path, Path]
    sentences: tuple[str, ...]


def write_layers(outing: Path, told: Outing, water: int, rest: int, to: Path) -> Layers:
    """Write the water of one frame and the rest of another as TIFF files that match on the rock, and a mask.

    Parameters
    ----------
    outing, told
        The outing's folder and its story.
    water, rest
        Numbers of two frames of one ladder.
    to
        The folder that the files go into; it is made.

    Raises
    ------
    PlanError
        There is no such frame, they are not of one ladder, or they can't be matched.
    UnreadableFileError
        One can't be read.
    SupplyError, LostError
        The disk would not take it.
    """
    of_water, of_rest = _frame(told, water), _frame(told, rest)
    regions = _regions(told, of_water, of_rest)
    (wet, _), (dry, header) = (read_with_header(outing / (file_of(one) or "")) for one in (of_water, of_rest))
    try:
        match = matched(wet, dry, regions)
    except ValueError as error:
        raise PlanError(f"Frames {water} and {rest} can't be matched: {error}.") from error
    with disk_sentences(to):
        to.mkdir(parents=True, exist_ok=True)
    name = outing.resolve().name
    files = (
        to / f"{name}_water-{water}.tif",
        to / f"{name}_rest-{rest}.tif",
        to / f"{name}_mask-{water}-{rest}.tif",
    )
    _write_picture(outing, of_water, wet, _look(header, match.water), header, files[0])
    _write_picture(outing, of_rest, dry, _look(header, match.rest), header, files[1])
    _write_mask(regions, dry, header, files[2])
    return Layers(files=files, sentences=tuple(_sentences(of_water, of_rest, match)))


def _frame(told: Outing, number: int) -> FrameStory:
    frame = next((one for ladder in told.ladders for one in ladder.frames if one.frame == number), None)
    if frame is None or file_of(frame) is None:
        raise PlanError(
            f"Frame {number}: no file of such a frame is in this outing. Its frames: tether log {told.name}"
        )
    return frame


def _regions(told: Outing, water: FrameStory, rest: FrameStory) -> Regions:
    if water.ladder != rest.ladder:
        raise PlanError(
            f"Frames {water.frame} and {rest.frame} are of two ladders, and so of two compositions; name two of one."
        )
    found = next(one.regions for one in told.ladders if one.ladder == water.ladder)
    if found is None:
        raise PlanError(
            f"Ladder {water.ladder} has no regions, so nobody knows what of frame {water.frame} is water: it takes two"
            " base frames, or regions given in the plan."
        )
    return Regions(cells=found.cells)


def _look(header: RawHeader, gains: tuple[float, float, float]) -> Look:
    return Look(gains=gains, balance=header.balance, to_srgb=header.to_srgb)


def _write_picture(outing: Path, frame: FrameStory, raw: RawFrame, look: Look, header: RawHeader, to: Path) -> None:
    turned = upright(raw, header.left_turns)
    height, width = turned.mosaic.shape
    described = f"Frame {frame.frame}, {_time(frame)}"
    facts = replace(facts_of(outing, frame), description=described)
    write_tiff(
        to,
        bands_16(turned, look, _BAND),
        (height, width, 3),
        profile=srgb_profile(),
        fields=exif_fields(facts) | _SRGB,
    )


def _write_mask(regions: Regions, raw: RawFrame, header: RawHeader, to: Path) -> None:
    height, width = upright(raw, header.left_turns).mosaic.shape
    mask = SoftMask(regions, header.left_turns, width, height)
    bands = (mask.rows(top, min(top + _BAND, height)) for top in range(0, height, _BAND))
    write_tiff(to, (np.round(band * _FULL).astype(np.uint16) for band in bands), (height, width))


def _time(frame: FrameStory) -> str:
    open_s = frame.believed_open_s
    return "open time not known" if open_s is None else words.measured_time(open_s)


def _sentences(water: FrameStory, rest: FrameStory, match: Match) -> Iterator[str]:
    yield f"The water of frame {water.frame} ({_time(water)}), all else of frame {rest.frame} ({_time(rest)})."
    red, green, blue = (words.stops(log2(one)) for one in match.brighter)
    yield (
        f"Matched on the rock, frame {water.frame} was made brighter by {green} stop in green, {red} in red and {blue}"
        " in blue."
    )
    darker_stops = -log2(match.rest[0])
    if darker_stops >= 0.005:
        yield (
            f"Both are {darker_stops:.2f} stop darker than frame {rest.frame} as it was taken, so that nothing clips"
            " that they have room for."
        )
    apart_px = _apart_px(water, rest)
    if apart_px is not None and apart_px >= _SHIFT_PX:
        yield f"They stand {apart_px:.1f} px apart, and are not aligned."


def _apart_px(water: FrameStory, rest: FrameStory) -> float | None:
    """Return how far the still parts of two frames are apart [px]; None where that is not known."""
    one, other = (frame.readings.still if frame.readings else None for frame in (water, rest))
    if one is None or other is None:
        return None
    return hypot(one.right_px - other.right_px, one.down_px - other.down_px)
