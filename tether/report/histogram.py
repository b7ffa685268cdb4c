"""The raw histogram of a frame as a picture, of its water where that is known: stops below clipping, by channel.

``python -m tether.report.histogram OUTING FRAME`` reads one frame of an outing at low priority and prints its histogram
as JSON: of frames whose histogram the journal does not have.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Mapping
from dataclasses import asdict
from math import sqrt
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from tether import wording as words
from tether.errors import TetherError
from tether.journal.readings import ChannelSaid, FrameReadings, HistogramSaid
from tether.report.drawing import line, picture, shape, text

if TYPE_CHECKING:
    from tether.files.raw import RawFrame
    from tether.frames.regions import Regions

#: Of ten steps of politeness, as a system counts it.
_POLITE = 10
_NAMES = {"R": "Red", "G": "Green", "B": "Blue"}
# Where things are [px].
_LEFT, _RIGHT, WIDTH, _ROW, _GAP, _HEAD, _FOOT = 52.0, 236.0, 344.0, 44.0, 12.0, 30.0, 42.0
_CLIP_LEFT, _CLIP_WIDTH, _SAID = _RIGHT + 3, 16.0, _RIGHT + 26
_HATCH = 6.0


def histogram_of(frame: RawFrame, regions: Regions | None) -> HistogramSaid:
    """Count a frame's pixels into bars: those of its water, or all where no water is known."""
    from tether.frames.bars import bars_of  # what reads raw files is loaded by who reads one
    from tether.frames.levels import clip_level, histograms, histograms_by_kind

    if regions is None or not regions.share("water"):
        whole = histograms(frame)
        return bars_of(whole, clip_level(whole, frame.white), "whole picture")
    found, whole = histograms_by_kind(frame, regions, "water")
    return bars_of(found, clip_level(whole, frame.white), "water")


def read_histogram(outing: Path, name: str) -> HistogramSaid:
    """Return the raw histogram of a frame of an outing; its water is as the journal has it for the last ladder.

    Raises
    ------
    UnreadableFileError
        The frame can't be read.
    PlanError, LostError
        The journal can't.
    """
    from tether.files.raw import read_raw
    from tether.frames.regions import Regions
    from tether.journal.telling import read_outing

    ladders = read_outing(outing).ladders
    told = ladders[-1].regions if ladders else None
    return histogram_of(read_raw(outing / "frames" / name), Regions(cells=told.cells) if told else None)


def histogram_picture(found: HistogramSaid, readings: FrameReadings | None, frame: int | None = None) -> ET.Element:
    """Draw a histogram: a row a channel, the clipping edge as a line, what clips hatched, headroom in stops beside it.

    Parameters
    ----------
    found
        The histogram.
    readings
        What the frame says of its levels; None: that is not known.
    frame
        Which frame it is; None: that is seen where it stands.

    Returns
    -------
    ElementTree.Element
        SVG whose tones are left to the page.
    """
    bottom = _HEAD + len(_NAMES) * (_ROW + _GAP) - _GAP
    svg = picture(f"Raw histogram of the {found.of}", WIDTH, bottom + _FOOT)
    raw = "Raw" if frame is None else f"Frame {frame}: raw"
    text(svg, 0, 14, f"{raw}, {found.of}", "soft")
    if channels := _channels(found, readings):
        text(svg, _SAID, 14, "headroom", "soft")
    for number, channel in enumerate(_NAMES):
        _row(svg, _HEAD + number * (_ROW + _GAP), channel, found, channels.get(channel))
    for stops in range(0, found.stops, 2):
        label = f"−{stops}" if stops else "clips"
        text(svg, _x(found, found.stops - stops), bottom + 18, label, "soft", "middle")
    text(svg, _RIGHT, bottom + 35, "stops below clipping", "soft", "end")
    return svg


def _channels(found: HistogramSaid, readings: FrameReadings | None) -> Mapping[str, ChannelSaid]:
    """Return what is known of the levels of what was counted."""
    levels = readings.water if readings is not None and found.of == "water" else readings
    return levels.channels if levels is not None else {}


def _x(found: HistogramSaid, stops: float) -> float:
    return _LEFT + (_RIGHT - _LEFT) * stops / found.stops


def _row(svg: ET.Element, top: float, channel: str, found: HistogramSaid, said: ChannelSaid | None) -> None:
    """Draw one channel. The height of a bar goes with the root of its share, so that small ones are seen."""
    bottom = top + _ROW
    text(svg, 0, bottom - 4, _NAMES[channel])
    for stops in range(1, found.stops):
        line(svg, "grid", _x(found, stops), top, _x(found, stops), bottom)
    bars = found.shares[channel]
    highest = max(sqrt(max(bars)), 1e-9)
    for number, share in enumerate(bars):
        if share:
            tall = max(_ROW * sqrt(share) / highest, 1.0)
            left, right = (_x(found, at * found.stops / len(bars)) for at in (number, number + 1))
            shape(svg, "rect", "bar", x=left + 0.5, y=bottom - tall, width=right - left - 1, height=tall)
    line(svg, "zero", _LEFT, bottom, _RIGHT, bottom)
    line(svg, "edge", _RIGHT + 1, top - 4, _RIGHT + 1, bottom + 4)
    if found.clipped[channel]:
        _hatched(svg, top, bottom)
    if said is not None and said.headroom_stops is not None:
        text(svg, _SAID, top + 18, f"{words.room(said.headroom_stops, 0.0)} stops", "strong")
    text(svg, _SAID, bottom - 4, f"{words.percent(found.clipped[channel])} clips", "soft")


def _hatched(svg: ET.Element, top: float, bottom: float) -> None:
    """Draw a hatched box beyond the clipping edge."""
    shape(svg, "rect", "clipped", x=_CLIP_LEFT, y=top, width=_CLIP_WIDTH, height=bottom - top)
    for step in range(int((bottom - top - _CLIP_WIDTH) / _HATCH) + 1):
        y = top + _CLIP_WIDTH + step * _HATCH
        line(svg, "hatch", _CLIP_LEFT, y, _CLIP_LEFT + _CLIP_WIDTH, y - _CLIP_WIDTH)


if __name__ == "__main__":
    os.nice(_POLITE)
    try:
        sys.stdout.write(json.dumps(asdict(read_histogram(Path(sys.argv[1]), sys.argv[2]))))
    except TetherError as error:
        sys.exit(str(error))
