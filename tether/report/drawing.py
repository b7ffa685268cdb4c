"""What pictures of an evening are drawn with: SVG whose tones are left to the page, and axes with round numbers.

Whoever shows a picture gives its classes their tones; it is drawn for a width, so that its text is never made smaller.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import ceil, floor, inf
from xml.etree import ElementTree as ET

from tether.report.evening_told import Evening
from tether.report.harmless import xml_text
from tether.wording import in_lines

#: How wide a letter is taken to be, on the wide side, of text that is 13 px high [px].
_LETTER_PX = 7.4
#: A step of the time axis is one of these, and as wide as its label needs [min, px].
_STEPS_MIN = (1, 2, 5, 10, 15, 30, 60, 120, 240)
_STEP_PX = 44.0
_STEPS = (0.25, 0.5, 1.0, 2.0, 5.0, 10.0)
_MOST_TICKS, _LITTLE = 8, 0.1
#: The axis of an evening is no shorter than this [s]; what is left free at either end, as a share of it.
_LEAST_S, _ROOM = 120.0, 0.02
#: A row of what is explained below a picture, and how far its words are from its left [px].
_KEY_ROW, _KEY_INDENT, _KEY_GAP = 21.0, 26.0, 14.0


def picture(name: str, width: float, height: float) -> ET.Element:
    """Return an empty picture, by its name for those who do not see it."""
    size = {"width": f"{width:g}", "height": f"{height:g}", "viewBox": f"0 0 {width:g} {height:g}"}
    svg = ET.Element("svg", {"class": "plot", "role": "img", **size})
    ET.SubElement(svg, "title").text = xml_text(name)
    return svg


def text(
    svg: ET.Element, x: float, y: float, words: str, kind: str = "", anchor: str = "start", **more: str
) -> ET.Element:
    """Write words at a place [px]."""
    place = {"x": f"{x:.1f}", "y": f"{y:.1f}", "text-anchor": anchor, "class": kind, **more}
    written = ET.SubElement(svg, "text", place)
    written.text = xml_text(words)
    return written


def shape(svg: ET.Element, tag: str, kind: str, **places: float | str) -> ET.Element:
    """Draw a shape by its attributes [px]."""
    given = {name.replace("_", "-"): one if isinstance(one, str) else f"{one:.1f}" for name, one in places.items()}
    return ET.SubElement(svg, tag, {"class": kind, **given})


def line(svg: ET.Element, kind: str, x1: float, y1: float, x2: float, y2: float) -> None:
    """Draw a straight line [px]."""
    shape(svg, "line", kind, x1=x1, y1=y1, x2=x2, y2=y2)


def wide_px(words: str) -> float:
    """Return how wide words are at the most [px]."""
    return _LETTER_PX * len(words)


def wrapped(words: str, room_px: float) -> list[str]:
    """Break words into lines that have room."""
    return in_lines(words.split(), lambda line: wide_px(line) <= room_px)


@dataclass(frozen=True, kw_only=True)
class Scale:
    """An axis from `low` at `start` to `high` at `end` [px]; where both are one value, that stands in the middle."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Return where a value stands [px]."""
        share = (value - self.low) / (self.high - self.low) if self.high != self.low else 0.5
        return self.start + share * (self.end - self.start)

    @property
    def px(self) -> float:
        """How wide a unit is [px]."""
        return (self.end - self.start) / (self.high - self.low)


def ticks(low: float, high: float) -> list[float]:
    """Return round numbers, evenly spaced, from `low` or below to `high` or above, within a little of a step."""
    step = next((one for one in _STEPS if (high - low) / one < _MOST_TICKS - 1), _STEPS[-1])
    first, last = floor(low / step + _LITTLE), ceil(high / step - _LITTLE)
    last = max(last, first + 1)
    return [step * number for number in range(first, last + 1)]


@dataclass(frozen=True, kw_only=True)
class Minutes:
    """The axis of an evening: minutes until the person leaves, else minutes since the beginning.

    Attributes
    ----------
    scale
        Moments [s of UTC] on the picture.
    zero_s
        The moment that is counted from.
    until
        Whether it is counted down to.
    """

    scale: Scale
    zero_s: float
    until: bool

    @property
    def caption(self) -> str:
        """What it counts."""
        at = f"{datetime.fromtimestamp(self.zero_s).astimezone():%H:%M}"
        return f"minutes until you leave at {at}" if self.until else f"minutes since the beginning at {at}"

    def ticks(self) -> Iterator[tuple[float, str]]:
        """Yield where round minutes stand [px], and what they are called."""
        least_min = _STEP_PX / (self.scale.px * 60)
        step_s = 60.0 * next((one for one in _STEPS_MIN if one >= least_min), 60 * ceil(least_min / 60))
        first, last = ceil((self.scale.low - self.zero_s) / step_s), floor((self.scale.high - self.zero_s) / step_s)
        for number in range(first, last + 1):
            minutes = round(number * step_s / 60) * (-1 if self.until else 1)
            yield self.scale.at(self.zero_s + number * step_s), f"{minutes}".replace("-", "−")


def minutes_axis(
    evening: Evening, start: float, end: float, now_s: float | None, *, ends_s: float = 0.0, at_most: float = inf
) -> Minutes:
    """Return the axis of an evening between two places [px].

    It goes from the first frame to the last, to the present moment, to `ends_s`, and to when the person leaves, unless
    that makes it longer than `at_most` times all else, or the evening is over.
    """
    moments = [at_s for rung in evening.rungs for span in rung.spans for at_s in span]
    moments += [point.at_s for point in evening.light]
    begins_s = min([evening.begins_s or now_s or 0.0, *moments])
    last_s = max(begins_s + _LEAST_S, ends_s, now_s or 0.0, *moments)
    leave_s = evening.leave_s or 0.0
    if not evening.over and last_s < leave_s <= begins_s + at_most * (last_s - begins_s):
        last_s = leave_s
    until = evening.leave_s is not None
    zero_s = begins_s if evening.leave_s is None else evening.leave_s
    room_s = (last_s - begins_s) * _ROOM
    scale = Scale(low=begins_s - room_s, high=last_s + room_s, start=start, end=end)
    return Minutes(scale=scale, zero_s=zero_s, until=until)


def draw_minutes(svg: ET.Element, minutes: Minutes, top: float, bottom: float) -> None:
    """Draw the axis of an evening: lines from top to bottom, their labels below, and what they count [px]."""
    for x, label in minutes.ticks():
        line(svg, "leave" if label == "0" and minutes.until else "grid", x, top, x, bottom)
        text(svg, x, bottom + 17, label, "soft", "middle")
    text(svg, minutes.scale.end, bottom + 35, minutes.caption, "soft", "end")


def draw_now(svg: ET.Element, minutes: Minutes, now_s: float, top: float, bottom: float) -> None:
    """Draw the present moment as a group that the page moves: by so many pixels a second, as far as the axis goes."""
    scale = minutes.scale
    x = min(max(scale.at(now_s), scale.start), scale.end)
    moves = {"data-px-per-s": f"{scale.px:.6f}", "data-from": f"{scale.start:.1f}", "data-to": f"{scale.end:.1f}"}
    group = ET.SubElement(
        svg, "g", {"class": "now", "transform": f"translate({x:.1f} 0)", "data-at": f"{x:.1f}", **moves}
    )
    line(group, "now-line", 0, top, 0, bottom)
    text(group, 0, top - 5, "now", "strong", "middle")


Key = tuple[str, str]


def _key_places(keys: Sequence[Key], width: float) -> list[tuple[float, int]]:
    """Return where each explanation begins [px] and in which row: as many in a row as it has room for."""
    places = []
    x, row = 0.0, 0
    for _, label in keys:
        wide = _KEY_INDENT + wide_px(label)
        if x and x + wide > width:
            x, row = 0.0, row + 1
        places.append((x, row))
        x += wide + _KEY_GAP
    return places


def keys_height(keys: Sequence[Key], width: float) -> float:
    """Return how high it is what is explained below a picture [px]."""
    return _KEY_ROW * (1 + max((row for _, row in _key_places(keys, width)), default=-1))


def draw_keys(
    svg: ET.Element,
    keys: Sequence[Key],
    top: float,
    width: float,
    draw: Callable[[ET.Element, str, float, float], None],
) -> None:
    """Explain below a picture what is in it; `draw` draws a kind with its middle at a place [px]."""
    for (kind, label), (x, row) in zip(keys, _key_places(keys, width), strict=True):
        middle = top + (row + 0.5) * _KEY_ROW
        draw(svg, kind, x + _KEY_INDENT / 2 - 3, middle)
        text(svg, x + _KEY_INDENT, middle + 4.5, label, "soft")


def written(svg: ET.Element) -> str:
    """Return a picture as text that stands by itself; as a part of a page it needs no more than it has."""
    svg.set("xmlns", "http://www.w3.org/2000/svg")
    return ET.tostring(svg, encoding="unicode")
