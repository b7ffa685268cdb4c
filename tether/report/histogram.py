"""The raw histogram of a frame as a picture, of its water where that is known: stops below clipping, by channel.

``python -m tether.report.histogram OUTING FRAME`` reads one frame of an outing at low priority and prints the picture.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal
from xml.etree import ElementTree as ET

import numpy as np
from numpy.typing import NDArray

from tether import wording as words
from tether.errors import TetherError
from tether.files.raw import RawFrame, read_raw
from tether.frames.levels import Histogram, clip_level, histograms, histograms_by_kind
from tether.frames.mosaic import CHANNELS, Channel
from tether.frames.regions import Regions
from tether.journal.telling import read_outing
from tether.report.harmless import xml_text

Shares = NDArray[np.float64]

#: The picture begins so many stops below clipping; a stop has so many bars.
STOPS, BARS_A_STOP = 9, 3
#: Of ten steps of politeness, as a system counts it.
_POLITE = 10
_NAMES: dict[Channel, str] = {"R": "Red", "G": "Green", "B": "Blue"}
# Where things are [px].
_LEFT, _WIDTH, _ROW, _GAP, _HEAD, _CLIP_WIDTH = 44.0, 360.0, 44.0, 10.0, 26.0, 34.0
_RIGHT = _WIDTH - _CLIP_WIDTH - 14
_PAPER, _INK, _BAR, _GRID = "#11181b", "#f1efe9", "#9fc3d0", "#3a474d"
_FONT = "Helvetica, Arial, 'Liberation Sans', sans-serif"


@dataclass(frozen=True, kw_only=True)
class Binned:
    """A raw histogram in bars.

    Attributes
    ----------
    of
        What was counted.
    shares
        By channel, the share of the pixels in each bar, from `STOPS` below clipping (with all that is darker) to
        clipping, shape (STOPS × BARS_A_STOP,).
    clipped
        By channel, the share of the pixels that clip.
    """

    of: Literal["water", "whole picture"]
    shares: Mapping[Channel, Shares]
    clipped: Mapping[Channel, float]


def binned(frame: RawFrame, regions: Regions | None) -> Binned:
    """Count a frame's pixels into bars: those of its water, or all where no water is known."""
    of: Literal["water", "whole picture"] = "whole picture"
    if regions is not None and regions.share("water") > 0:
        found, whole = histograms_by_kind(frame, regions, "water")
        of = "water"
    else:
        found = whole = histograms(frame)
    clips_at = clip_level(whole, frame.white)
    shares, clipped = {}, {}
    for channel in CHANNELS:
        places = [one for one in found if one.channel == channel]
        pixels = sum(int(one.counts.sum()) for one in places)
        shares[channel] = sum((_bars(one, clips_at) for one in places), np.zeros(STOPS * BARS_A_STOP)) / max(pixels, 1)
        clipped[channel] = sum(int(one.counts[clips_at:].sum()) for one in places) / max(pixels, 1)
    return Binned(of=of, shares=shares, clipped=clipped)


def _bars(one: Histogram, clips_at: int) -> Shares:
    """Return the pixels in each bar that do not clip."""
    counts = one.counts[:clips_at]
    above = np.maximum(np.arange(len(counts)) - one.black, 1e-9)
    bar = np.floor((np.log2(above / (clips_at - one.black)) + STOPS) * BARS_A_STOP).astype(int)
    found = np.bincount(np.clip(bar, 0, STOPS * BARS_A_STOP - 1), weights=counts, minlength=STOPS * BARS_A_STOP)
    return found.astype(np.float64)


def histogram_of(outing: Path, name: str) -> Binned:
    """Return the raw histogram of a frame of an outing; its water is as the journal has it for the last ladder.

    Raises
    ------
    UnreadableFileError
        The frame can't be read.
    PlanError, LostError
        The journal can't.
    """
    ladders = read_outing(outing).ladders
    told = ladders[-1].regions if ladders else None
    return binned(read_raw(outing / "frames" / name), Regions(cells=told.cells) if told else None)


def histogram_svg(found: Binned) -> str:
    """Draw a histogram as an SVG that stands by itself: a row a channel, the clipped share hatched and in numbers."""
    height = _HEAD + len(CHANNELS) * (_ROW + _GAP) + 18
    size = {"viewBox": f"0 0 {_WIDTH:g} {height:g}", "width": f"{_WIDTH:g}", "height": f"{height:g}"}
    svg = ET.Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "font-family": _FONT, **size})
    ET.SubElement(svg, "title").text = f"Raw histogram of the {found.of}"
    hatch = ET.SubElement(
        svg, "pattern", {"id": "clipped", "width": "6", "height": "6", "patternUnits": "userSpaceOnUse"}
    )
    ET.SubElement(hatch, "path", {"d": "M-1,7 L7,-1 M-1,1 L1,-1 M5,7 L7,5", "stroke": _INK, "stroke-width": "1.6"})
    ET.SubElement(svg, "rect", {"width": "100%", "height": "100%", "rx": "6", "fill": _PAPER})
    _text(svg, 10, 17, f"Raw, {found.of}: stops below clipping")
    for number, channel in enumerate(CHANNELS):
        _row(svg, _HEAD + number * (_ROW + _GAP), channel, found)
    for stops in range(0, STOPS, 2):
        _text(svg, _x(STOPS - stops), height - 6, f"−{stops}" if stops else "0", anchor="middle")
    return ET.tostring(svg, encoding="unicode")


def _x(stops: float) -> float:
    return _LEFT + (_RIGHT - _LEFT) * stops / STOPS


def _row(svg: ET.Element, top: float, channel: Channel, found: Binned) -> None:
    """Draw one channel. The height of a bar goes with the root of its share, so that small ones are seen."""
    bottom = top + _ROW
    _text(svg, 10, bottom - 4, _NAMES[channel])
    for stops in range(1, STOPS + 1):
        ET.SubElement(svg, "path", {"d": f"M{_x(stops):.1f},{top:g}V{bottom:g}", "stroke": _GRID})
    roots = np.sqrt(found.shares[channel])
    highest = max(float(roots.max()), 1e-9)
    for bar, root in enumerate(roots):
        if root:
            tall = max(_ROW * float(root) / highest, 1.0)
            left, right = _x(bar / BARS_A_STOP), _x((bar + 1) / BARS_A_STOP)
            _rect(svg, left + 0.5, bottom - tall, right - left - 1, tall, _BAR)
    ET.SubElement(svg, "path", {"d": f"M{_LEFT:g},{bottom:g}H{_RIGHT:g}", "stroke": _INK})
    share = found.clipped[channel]
    if share:
        _rect(svg, _RIGHT + 3, top, _CLIP_WIDTH, _ROW - 15, "url(#clipped)")
    _text(svg, _RIGHT + 3, bottom, words.percent(share))


def _rect(svg: ET.Element, x: float, y: float, width: float, height: float, fill: str) -> None:
    place = {"x": f"{x:.1f}", "y": f"{y:.1f}", "width": f"{width:.1f}", "height": f"{height:.1f}"}
    ET.SubElement(svg, "rect", {**place, "fill": fill})


def _text(svg: ET.Element, x: float, y: float, text: str, *, anchor: str = "start") -> None:
    place = {"x": f"{x:.1f}", "y": f"{y:.1f}", "text-anchor": anchor, "font-size": "12", "fill": _INK}
    ET.SubElement(svg, "text", place).text = xml_text(text)


if __name__ == "__main__":
    os.nice(_POLITE)
    try:
        sys.stdout.write(histogram_svg(histogram_of(Path(sys.argv[1]), sys.argv[2])))
    except TetherError as error:
        sys.exit(str(error))
