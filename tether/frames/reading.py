"""Reading frames in a process of its own, at low priority, so that nothing of it disturbs what the camera is doing.

``python -m tether.frames.reading`` reads one request as JSON from standard input and prints its answer as JSON: a
:class:`FrameAsked` is answered with what the frame says, a :class:`BaseAsked` with the regions and levels of a base, a
:class:`PictureAsked` by the picture that is drawn.
"""

from __future__ import annotations

import faulthandler
import json
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import asdict
from math import log2
from pathlib import Path
from typing import TypeVar

from pydantic import TypeAdapter

from tether.errors import TetherError
from tether.files.errors import UnreadableFileError
from tether.files.raw import RawFrame, read_raw
from tether.frames.against import Against, boiled_down, cells_of, compared, rock_clips
from tether.frames.asked import FAILS, AnyAsked, Asked, BaseAsked, FrameAnswer, PictureAsked, is_finite
from tether.frames.bars import bars_of
from tether.frames.clips import clip_by_pair
from tether.frames.hot import each_less_hot, less_hot
from tether.frames.levels import Histogram, Levels, clip_level, finite, histograms, histograms_by_kind, levels_of
from tether.frames.mosaic import Region
from tether.frames.patches import plane_shape
from tether.frames.regions import COLUMNS, ROWS, Regions, given, proposed, why_no_rock
from tether.frames.stillness import diffraction, stillness
from tether.frames.water import definition, streak
from tether.journal.readings import (
    BaseReadings,
    ChannelSaid,
    Definition,
    FrameReadings,
    HistogramSaid,
    LevelsSaid,
    RockSaid,
    Standing,
    Stillness,
    StreakSaid,
)

T = TypeVar("T")

#: Of ten steps of politeness, as a system counts it.
_POLITE = 10
#: Apertures nearer than this are one [stops, half of them].
_SAME_APERTURE = 0.05
#: A loss of sharpness up to this is nothing that has to be accounted for.
_LOST = 0.03
#: A frame that is not so many times as long as the base frames draws no streak to be told from theirs.
_LONGER = 2.0


def answer(asked: Asked) -> FrameAnswer:
    """Answer a request; where something can't be read, worked out or drawn, a sentence says so."""
    try:
        if isinstance(asked, PictureAsked):
            from tether.frames.regions_picture import save_regions_picture  # it loads what reading does without

            save_regions_picture(asked.path, Regions(cells=asked.cells), asked.into)
            return FrameAnswer()
        if isinstance(asked, BaseAsked):
            found = _finite_only(read_base(asked))
            return FrameAnswer(base=found, problem=None if found.rock_share else _why_no_rock(asked))
        against = Against.load(asked.against) if asked.against else None
        return _finite_only(read_frame(asked.path, against, aperture=asked.aperture, time_s=asked.time_s))
    except TetherError as error:
        return FrameAnswer(problem=str(error))
    except FAILS as error:
        return FrameAnswer(problem=f"The numbers of it come to nothing: {error}.")


def _finite_only(found: T) -> T:
    """Return what was found; ArithmeticError where a number in it is not finite."""
    if not is_finite(found):
        raise ArithmeticError("a number is not finite")
    return found


def read_frame(
    path: Path, against: Against | None = None, *, aperture: float | None = None, time_s: float | None = None
) -> FrameAnswer:
    """Return what a raw frame says.

    Beside a base there are levels of the water alone, how much brighter the still parts are, where they stand and how
    sharp they are, with what diffraction makes of that at this `aperture`, and the water's texture, in a frame that was
    open for `time_s`. What can't be worked out is None, with a sentence for it.

    Raises
    ------
    UnreadableFileError
        It can't be read.
    """
    frame = read_raw(path)
    if against is None:
        found = less_hot(histograms(frame), frame)
        clips_at = clip_level(found, frame.white)
        return FrameAnswer(
            frame=FrameReadings(**vars(_levels(levels_of(found, clips_at)))),
            histogram=bars_of(found, clips_at, "whole picture"),
        )
    water, found = _without_hot(frame, against.regions)
    problems: list[str] = []

    def part(what: str, read: Callable[[], T | None]) -> T | None:
        try:
            return read()
        except FAILS as error:
            problems.append(f"{what} can't be worked out ({error}).")
            return None

    still = part("Where the still parts stand", lambda: _stillness(frame, against))
    level, clips = part("The level of the rock", lambda: _rock(frame, against)) or (None, None)
    readings = FrameReadings(
        **vars(_levels(levels_of(found, against.clips_at))),
        water=part("The level of the water", lambda: _finite_only(_water(water, against.clips_at))),
        rock=level,
        rock_clipped=clips,
        still=part("What moved", lambda: _finite_only(_still(still, against, aperture))),
        definition=part("How defined the water is", lambda: _finite_only(_definition(frame, against))),
        streak=part("The water's streak", lambda: _finite_only(_streak(frame, against, still, time_s))),
    )
    histogram = part("Its histogram", lambda: _bars(water, found, against.clips_at))
    return FrameAnswer(frame=readings, histogram=histogram, problem=" ".join(problems) or None)


def _rock(frame: RawFrame, against: Against) -> tuple[RockSaid | None, bool]:
    """Return the level of the still parts, and whether they are clipped."""
    cells = cells_of(frame, against.clips_at)
    return _finite_only(compared(cells, against)), rock_clips(cells, against)


def _stillness(frame: RawFrame, against: Against) -> Stillness | None:
    same = against.still is not None and tuple(against.still.shape) == plane_shape(frame)
    return stillness(against.still, frame) if same and against.still is not None else None


def _definition(frame: RawFrame, against: Against) -> Definition | None:
    """Return how defined the water is; None where that can't be told."""
    return None if against.wet is None or against.dry is None else definition(frame, against.wet, against.dry)


def _streak(frame: RawFrame, against: Against, still: Stillness | None, time_s: float | None) -> StreakSaid | None:
    """Return how long a streak the water drew, or why that can't be told; None where nothing is known to tell it by."""
    if against.water is None or time_s is None or time_s < _LONGER * against.time_s:
        return None
    moved_px = (still.right_px, still.down_px) if still else (0.0, 0.0)
    return streak(against.water, frame, base_share=against.time_s / time_s, moved_px=moved_px)


def _still(found: Stillness | None, against: Against, aperture: float | None) -> Standing | None:
    if found is None or against.still is None:
        return None
    expected = None
    softer = found.sharpness is not None and found.sharpness.lost > _LOST
    if softer and aperture is not None and abs(log2(aperture / against.aperture)) > _SAME_APERTURE:
        expected = diffraction(against.still, against.aperture, aperture, against.pitch_um)
    return Standing(**vars(found), expected=expected)


def read_base(asked: BaseAsked) -> BaseReadings:
    """Read base frames and keep what later ones are read against.

    Regions that are not given are proposed from the first two frames; where there is only one, there are none.

    Raises
    ------
    UnreadableFileError, SupplyError, LostError
        A frame can't be read, or nothing can be written.
    """
    frames = [read_raw(path) for path in asked.paths]
    height, width = plane_shape(frames[0])
    if height < ROWS or width < COLUMNS:
        raise UnreadableFileError(f"{asked.paths[0]} is too small a picture for {COLUMNS} × {ROWS} cells.")
    found = [less_hot(histograms(frame), frame) for frame in frames]
    clips_at = _clips_at(frames, found)
    regions = _regions(frames, asked)
    kept = boiled_down(frames, regions, clips_at, aperture=asked.aperture, pitch_um=asked.pitch_um, time_s=asked.time_s)
    kept.save(asked.keep)
    return BaseReadings(
        cells=regions.cells,
        water_share=regions.share("water"),
        rock_share=regions.share("rock"),
        first=FrameReadings(
            **vars(_levels(levels_of(found[0], clips_at))),
            water=_water(_without_hot(frames[0], regions)[0], clips_at),
        ),
    )


def _without_hot(frame: RawFrame, regions: Regions) -> tuple[tuple[Histogram, ...], tuple[Histogram, ...]]:
    """Return the histograms of a frame's water and of the whole frame, without pixels that are hot."""
    water, whole = histograms_by_kind(frame, regions, "water")
    wet = regions.mask("water", plane_shape(frame))
    if not wet.any():
        return water, less_hot(whole, frame)
    water, whole = each_less_hot(frame, [(water, wet), (whole, None)])
    return water, whole


def _clips_at(frames: Sequence[RawFrame], found: Sequence[tuple[Histogram, ...]]) -> int:
    """Return where pixels clip: by what repeats in two equal base frames, or else by their histograms."""
    clip = clip_by_pair(frames[0], frames[1]) if len(frames) > 1 else None
    levels = [clip_level(one, frame.white) for one, frame in zip(found, frames, strict=True)]
    return min([*levels, *([clip.lowest] if clip else [])])


def _why_no_rock(asked: BaseAsked) -> str | None:
    """Say why no rock was proposed, where light or detail are wanting; None where it is not that."""
    if len(asked.paths) < 2:
        return None
    one, other = (read_raw(path) for path in asked.paths[:2])
    return why_no_rock(one, other)


def _bars(water: tuple[Histogram, ...], whole: tuple[Histogram, ...], clips_at: int) -> HistogramSaid:
    """Return the histogram of the water; that of the whole picture where there is none."""
    wet = any(one.counts.any() for one in water)
    return bars_of(water, clips_at, "water") if wet else bars_of(whole, clips_at, "whole picture")


def _water(found: tuple[Histogram, ...], clips_at: int) -> LevelsSaid | None:
    """Return the levels of the water; None where there is none."""
    return _levels(levels_of(found, clips_at)) if any(one.counts.any() for one in found) else None


def _regions(frames: Sequence[RawFrame], asked: BaseAsked) -> Regions:
    rectangles = [
        Region(kind=kind, left=left, top=top, right=right, bottom=bottom)
        for kind, left, top, right, bottom in asked.rectangles
    ]
    missing = {"water", "rock"} - {one.kind for one in rectangles}
    proposal = proposed(frames[0], frames[1]) if missing and len(frames) > 1 else None
    return given(rectangles, beside=proposal)


def _levels(found: Levels) -> LevelsSaid:
    return LevelsSaid(
        headroom_stops=finite(found.headroom_stops),
        clipped_share=found.clipped_share,
        channels={
            channel: ChannelSaid(
                mean=one.mean, clipped_share=one.clipped_share, headroom_stops=finite(one.headroom_stops)
            )
            for channel, one in found.channels.items()
        },
    )


if __name__ == "__main__":
    faulthandler.enable()
    os.nice(_POLITE)
    request: TypeAdapter[Asked] = TypeAdapter(AnyAsked)
    read = json.dumps(asdict(answer(request.validate_json(sys.stdin.read()))))
    try:
        os.write(1, read.encode())
    except BrokenPipeError:
        sys.exit(1)  # whoever asked is gone
