"""The light over an evening as a picture: in stops against minutes until the person leaves.

Points are the frames with the doubt of what they tell, a dashed line is what sun and plan let expect, triangles below
are what was corrected, and a line that the page moves is the present moment.
"""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree import ElementTree as ET

from tether import wording as words
from tether.report.drawing import (
    Scale,
    draw_keys,
    draw_minutes,
    draw_now,
    keys_height,
    line,
    minutes_axis,
    picture,
    shape,
    text,
    ticks,
    wide_px,
    written,
)
from tether.report.evening_told import Correction, Evening, LightPoint
from tether.report.said_of_frames import WIDE

# Where things are [px].
_LEFT, _RIGHT, _TOP, _PLOT = 52.0, 18.0, 46.0, 190.0
_UNDER_AXIS, _MARKS, _LABEL_ROW = 48.0, 26.0, 16.0
_RADIUS, _TRIANGLE, _LABEL_GAP = 4.0, 6.0, 9.0
#: The axis of the light shows no less than this [stops].
_LEAST_STOPS = 1.0


def light_picture(evening: Evening, width: float, now_s: float | None) -> str | None:
    """Draw the light of an evening.

    Parameters
    ----------
    evening
        What is drawn.
    width
        How wide the picture is [px].
    now_s
        The present moment; None: it is not of this evening.

    Returns
    -------
    str or None
        SVG whose tones are left to the page; None where fewer than two frames tell of the light.
    """
    if len(evening.light) < 2:
        return None
    minutes = minutes_axis(evening, _LEFT, width - _RIGHT, now_s)
    rows = label_rows(evening.corrections, minutes.scale)
    bottom = _TOP + _PLOT
    floor = bottom + (_MARKS + _LABEL_ROW * (max(rows) + 1) if rows else 0.0)
    keys = _keys(evening)
    svg = picture("The light over the evening", width, floor + _UNDER_AXIS + keys_height(keys, width))
    text(svg, 0, 14, "Light: stops against the base frames", "soft")
    stops = _draw_stops(svg, evening, minutes.scale, bottom)
    draw_minutes(svg, minutes, _TOP, floor)
    _draw_expected(svg, evening, minutes.scale, stops)
    for point in evening.light:
        _draw_point(svg, point, minutes.scale, stops)
    for correction, row in zip(evening.corrections, rows, strict=True):
        _draw_correction(svg, correction, minutes.scale, bottom, row)
    if now_s is not None:
        draw_now(svg, minutes, now_s, _TOP, bottom)
    draw_keys(svg, keys, floor + _UNDER_AXIS, width, _draw_key)
    return written(svg)


def stops_shown(evening: Evening, until_s: float) -> list[float]:
    """Return the round numbers of stops between which all lies that is shown until a moment."""
    values = [
        0.0,
        *(one.stops + side * WIDE * one.doubt_stops for one in evening.light for side in (-1, 1)),
        *(stops for at_s, stops in evening.expected if at_s <= until_s),
    ]
    low, high = min(values), max(values)
    return ticks(low if high - low > _LEAST_STOPS else min(low, high - _LEAST_STOPS), high)


def _draw_stops(svg: ET.Element, evening: Evening, minutes: Scale, bottom: float) -> Scale:
    """Draw the axis of the light with round numbers, and return it."""
    found = stops_shown(evening, minutes.high)
    scale = Scale(low=found[0], high=found[-1], start=bottom, end=_TOP)
    for one in found:
        line(svg, "zero" if one == 0 else "grid", minutes.start, scale.at(one), minutes.end, scale.at(one))
        text(svg, minutes.start - 7, scale.at(one) + 4.5, signed(one), "soft", "end")
    return scale


def signed(stops: float) -> str:
    """Write stops with their sign and no needless figures: ``+0.67``, ``−1``, ``0``."""
    return f"{words.stops(stops)}".replace("-", "−").removesuffix("0").removesuffix(".0") if stops else "0"


def _draw_expected(svg: ET.Element, evening: Evening, minutes: Scale, stops: Scale) -> None:
    shown = [(minutes.at(at_s), stops.at(one)) for at_s, one in evening.expected if at_s <= minutes.high]
    if len(shown) > 1:
        shape(svg, "polyline", "expected", points=" ".join(f"{x:.1f},{y:.1f}" for x, y in shown))


def _draw_point(svg: ET.Element, point: LightPoint, minutes: Scale, stops: Scale) -> None:
    x, y = minutes.at(point.at_s), stops.at(point.stops)
    doubt_px = abs(stops.px) * WIDE * point.doubt_stops
    if doubt_px > _RADIUS:
        line(svg, "doubt", x, y - doubt_px, x, y + doubt_px)
    dot = shape(svg, "circle", "bare" if point.bare else "filtered", cx=x, cy=y, r=_RADIUS)
    ET.SubElement(dot, "title").text = f"Frame {point.frame}: {signed(point.stops)}"


def label_rows(corrections: Sequence[Correction], minutes: Scale) -> list[int]:
    """Return in which row each label stands, from above, so that none touches another."""
    ends: list[float] = []
    rows = []
    for one in corrections:
        half = wide_px(signed(one.stops)) / 2
        middle = _inside(minutes.at(one.at_s), half, minutes)
        row = next((row for row, end in enumerate(ends) if end < middle - half), len(ends))
        ends[row : row + 1] = [middle + half + _LABEL_GAP]
        rows.append(row)
    return rows


def _inside(x: float, half: float, minutes: Scale) -> float:
    return min(max(x, minutes.start - _LEFT + half), minutes.end + _RIGHT - half)


def _draw_correction(svg: ET.Element, one: Correction, minutes: Scale, bottom: float, row: int) -> None:
    """Draw a triangle that points to brighter or darker, and by how much below it."""
    x, said = minutes.at(one.at_s), signed(one.stops)
    mark = _triangle(svg, x, bottom + 12, up=one.stops > 0)
    ET.SubElement(mark, "title").text = f"From rung {one.rung} on: {said}"
    y = bottom + _MARKS + _LABEL_ROW * row + 10
    text(svg, _inside(x, wide_px(said) / 2, minutes), y, said, "strong", "middle")


def _triangle(svg: ET.Element, x: float, y: float, *, up: bool) -> ET.Element:
    tip = -_TRIANGLE if up else _TRIANGLE
    points = f"{x:.1f},{y + tip:.1f} {x - _TRIANGLE:.1f},{y - tip:.1f} {x + _TRIANGLE:.1f},{y - tip:.1f}"
    return shape(svg, "polygon", "correction", points=points)


def _keys(evening: Evening) -> list[tuple[str, str]]:
    """Return what is explained below: what is drawn, and what it is."""
    bare = {point.bare for point in evening.light}
    return [
        *([("bare", "frame without filters")] if True in bare else []),
        *([("filtered", "frame through filters")] if False in bare else []),
        *([("expected", "expected by sun and plan")] if evening.expected else []),
        *([("correction", "exposure corrected, stops")] if evening.corrections else []),
    ]


def _draw_key(svg: ET.Element, kind: str, x: float, y: float) -> None:
    match kind:
        case "expected":
            shape(svg, "polyline", kind, points=f"{x - 9:.1f},{y:.1f} {x + 9:.1f},{y:.1f}")
        case "correction":
            _triangle(svg, x, y, up=True)
        case _:
            shape(svg, "circle", kind, cx=x, cy=y, r=_RADIUS)
