"""A planned ladder as a picture: an SVG that stands by itself, from the records that `tether ladder --json` gives.

Rungs are rows in the order they are taken; their bars run along a logarithmic time axis. A bar's tone *and* hatching
tell its filters, its end tells how it is held open; dots show aperture and ISO on small scales beside it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from xml.etree import ElementTree as ET

from tether import wording as words
from tether.errors import PlanError
from tether.files.safe import safe_write
from tether.journal.planned import PlannedLadder, PlannedRung
from tether.report.drawing import Scale
from tether.report.harmless import xml_text

Stack = tuple[str, ...]

# Where things are [px]; the whole is 900 wide.
_WIDTH, _MARGIN = 900.0, 28.0
_BARS_LEFT, _BARS_RIGHT = 64.0, 432.0
_APERTURE, _ISO = (540.0, 580.0, 618.0), (634.0, 672.0, 714.0)  # ends of the scale, right edge of the number
_FILTERS_LEFT = 732.0
_HEAD, _ROW, _BAR, _TURN, _LEGEND_ROW = 116.0, 27.0, 15.0, 19.0, 22.0
_FILTER_CHARS = 22

_PAPER, _EDGE, _INK, _SOFT, _GRID = "#f8f6f1", "#d9d4c8", "#1d2529", "#667076", "#e2ddd2"
#: Tones of the bars from no filter to the strongest stack, as red, green, blue.
_LIGHT, _DARK = (0xC9, 0xD6, 0xDB), (0x1E, 0x3E, 0x52)
_FONT = "Helvetica, Arial, 'Liberation Sans', sans-serif"
#: Lines of each hatching in a tile of 8 × 8 px; the first stack is plain.
_HATCHINGS = (
    "",
    "M-2,2 L2,-2 M0,8 L8,0 M6,10 L10,6",
    "M-2,6 L2,10 M0,0 L8,8 M6,-2 L10,2",
    "M0,0 L8,8 M8,0 L0,8",
    "M0,4 H8",
    "M4,0 V8",
    "M0,4 H8 M4,0 V8",
)


def save_ladder_picture(planned: PlannedLadder, path: Path) -> None:
    """Write the picture of a ladder as an SVG file.

    Raises
    ------
    SupplyError, PlanError
        If the file cannot be written.
    """
    safe_write(path, ladder_picture(planned).encode())


def ladder_picture(planned: PlannedLadder) -> str:
    """Draw a ladder.

    Parameters
    ----------
    planned
        The ladder as data.

    Returns
    -------
    str
        SVG, 900 px wide on its own background, without outside fonts, links or scripts.

    Raises
    ------
    PlanError
        If the ladder has no rungs.
    """
    rungs = planned.rungs
    if not rungs:
        raise PlanError(f"{planned.plan}: none of the rungs is possible with this kit, so there is nothing to draw.")
    stacks = sorted({rung.filters: rung.filter_stops for rung in rungs}.items(), key=lambda item: item[1])
    order = [stack for stack, _ in stacks]
    tops, bottom = _row_tops(planned)
    height = bottom + 40 + _LEGEND_ROW * (len(stacks) + 1)
    svg = ET.Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "viewBox": f"0 0 {_WIDTH:g} {height:g}",
                             "width": f"{_WIDTH:g}", "height": f"{height:g}", "role": "img",
                             "font-family": _FONT, "fill": _INK})  # fmt: skip
    ET.SubElement(svg, "title").text = xml_text(f"Ladder: {planned.plan}")
    _patterns(svg, stacks)
    ET.SubElement(svg, "rect", {"width": f"{_WIDTH:g}", "height": f"{height:g}", "rx": "10", "fill": _PAPER})
    _heading(svg, planned)
    times = _time_scale(rungs)
    _axis(svg, times, bottom)
    apertures = _side_scale([rung.aperture for rung in rungs], _APERTURE)
    isos = _side_scale([rung.iso for rung in rungs], _ISO)
    for rung, top in zip(rungs, tops, strict=True):
        _row(svg, rung, top, times, order.index(rung.filters))
        _mark(svg, top, apertures, rung.aperture, _APERTURE[2], words.aperture(rung.aperture))
        _mark(svg, top, isos, rung.iso, _ISO[2], words.iso(rung.iso))
    _turns(svg, planned, tops, bottom)
    _legend(svg, stacks, bottom + 40)
    ET.indent(svg, " ")
    return ET.tostring(svg, encoding="unicode") + "\n"


def _turns_before(planned: PlannedLadder, rung: int | None) -> list[str]:
    return [turn.what for turn in planned.turns if turn.before_rung == rung]


def _row_tops(planned: PlannedLadder) -> tuple[list[float], float]:
    """Return the top of each row and the end of them all [px]; a turn takes a little room above its rung."""
    tops, y = [], _HEAD
    for rung in planned.rungs:
        y += _TURN if _turns_before(planned, rung.rung) else 0
        tops.append(y)
        y += _ROW
    return tops, y + (_TURN if _turns_before(planned, None) else 0)


def _time_scale(rungs: Sequence[PlannedRung]) -> Scale:
    """Make the time axis [stops]: whole ones, from one or more below the shortest time on, so that its bar is seen."""
    proofs = [rung.proof.time_s for rung in rungs if rung.proof]
    shortest, longest = min(proofs + [rung.time_s for rung in rungs]), max(map(_whole_s, rungs))
    low, high = math.floor(math.log2(shortest)) - 1, math.ceil(math.log2(longest))
    return Scale(low=low, high=high, start=_BARS_LEFT, end=_BARS_RIGHT)


def _whole_s(rung: PlannedRung) -> float:
    """Return the time a rung stands for [s]: that of its frames together where many stand for one."""
    return rung.stands_for_s or rung.time_s


def _side_scale(values: Sequence[float], place: tuple[float, float, float]) -> Scale:
    return Scale(low=math.log2(min(values)), high=math.log2(max(values)), start=place[0], end=place[1])


def _shape(svg: ET.Element, tag: str, **marks: str) -> ET.Element:
    return ET.SubElement(svg, tag, {name.replace("_", "-"): value for name, value in marks.items()})


def _text(
    svg: ET.Element, x: float, y: float, text: str, *, size: float = 12, anchor: str = "start", **more: str
) -> None:
    at = {"x": f"{x:g}", "y": f"{y:.1f}"}
    _shape(svg, "text", **at, font_size=f"{size:g}", text_anchor=anchor, **more).text = xml_text(text)


def _line(svg: ET.Element, x1: float, y1: float, x2: float, y2: float, stroke: str, **more: str) -> None:
    _shape(svg, "line", x1=f"{x1:.1f}", y1=f"{y1:.1f}", x2=f"{x2:.1f}", y2=f"{y2:.1f}", stroke=stroke, **more)


def _tone(stops: float, most: float) -> str:
    part = stops / most if most else 0.0
    mixed = (round(light + part * (dark - light)) for light, dark in zip(_LIGHT, _DARK, strict=True))
    return "#" + "".join(f"{value:02x}" for value in mixed)


def _patterns(svg: ET.Element, stacks: Sequence[tuple[Stack, float]]) -> None:
    """Define the fill of each stack: a tone by its strength, a hatching by its place in the order of strengths."""
    most = max(stops for _, stops in stacks)
    defs = ET.SubElement(svg, "defs")
    for place, (_, stops) in enumerate(stacks):
        tile = {"id": f"stack-{place}", "width": "8", "height": "8", "patternUnits": "userSpaceOnUse"}
        pattern = ET.SubElement(defs, "pattern", tile)
        ET.SubElement(pattern, "rect", {"width": "8", "height": "8", "fill": _tone(stops, most)})
        lines = {"d": _HATCHINGS[place % len(_HATCHINGS)], "stroke": _PAPER, "stroke-width": "1.3", "fill": "none"}
        if lines["d"]:
            ET.SubElement(pattern, "path", lines)


def _heading(svg: ET.Element, planned: PlannedLadder) -> None:
    base, body = planned.base, planned.body
    at = f"{words.planned_time(base.time_s)}, {words.aperture(base.aperture)}, ISO {words.iso(base.iso)}"
    made_for = f"{body.name} (simulated, no camera)" if body.simulated else body.name
    _text(svg, _MARGIN, 42, planned.plan, size=20, font_weight="bold")
    forecast = f"about {words.span(planned.forecast_s)} in all"
    _text(svg, _MARGIN, 63, f"Base {at}  ·  {made_for}  ·  {forecast}", size=12.5, fill=_SOFT)
    for x, name in ((_APERTURE[0], "aperture"), (_ISO[0], "ISO"), (_FILTERS_LEFT, "filters")):
        _text(svg, x, 98, name, size=11, fill=_SOFT)


def _axis(svg: ET.Element, times: Scale, bottom: float) -> None:
    """Draw the time axis with a line at every second or fourth stop, among them one second."""
    low, high = int(times.low), int(times.high)
    step = 2 if high - low <= 12 else 4
    for power in range(low, high + 1):
        if power % step:
            continue
        x = times.at(power)
        _line(svg, x, _HEAD - 10, x, bottom, _GRID)
        _text(svg, x, 98, words.planned_time(2.0**power), size=11, anchor="middle", fill=_SOFT)


def _row(svg: ET.Element, rung: PlannedRung, top: float, times: Scale, stack: int) -> None:
    y, base_line = top + (_ROW - _BAR) / 2, top + _ROW / 2 + 4.2
    end, whole = times.at(math.log2(rung.time_s)), times.at(math.log2(_whole_s(rung)))
    _text(svg, _BARS_LEFT - 12, base_line, str(rung.rung), anchor="end", fill=_SOFT)
    _bar(svg, end, y, rung.way == "held", fill=f"url(#stack-{stack})", stroke=_INK, stroke_width="0.8")
    if whole > end:
        _bar(svg, whole, y, False, fill="none", stroke=_INK, stroke_width="0.8", stroke_dasharray="3 2")
    if proof := rung.proof:
        cx, cy = f"{times.at(math.log2(proof.time_s)):.1f}", f"{top + _ROW / 2:.1f}"
        _shape(svg, "circle", cx=cx, cy=cy, r="3.6", fill=_PAPER, stroke=_INK, stroke_width="1")
    _text(svg, whole + 8, base_line, _time_words(rung), size=13, font_weight="bold")
    _text(svg, _FILTERS_LEFT, base_line, _short(words.filters(rung.filters)), size=11)


def _bar(svg: ET.Element, end: float, y: float, round_end: bool, **more: str) -> None:
    radius = _BAR / 2 if round_end else 0.0
    straight = max(end - radius, _BARS_LEFT)
    cap = f"a{radius:g},{radius:g} 0 0 1 0,{_BAR:g}" if round_end else f"v{_BAR:g}"
    _shape(svg, "path", d=f"M{_BARS_LEFT:g},{y:.1f} H{straight:.1f} {cap} H{_BARS_LEFT:g} Z", **more)


def _time_words(rung: PlannedRung) -> str:
    if rung.way == "many":
        return f"{rung.name}: {rung.opens}"
    return f"{rung.name}  ×{rung.frames}" if rung.frames > 1 else rung.name


def _short(text: str) -> str:
    return text if len(text) <= _FILTER_CHARS else f"{text[: _FILTER_CHARS - 1]}…"


def _mark(svg: ET.Element, top: float, scale: Scale, value: float, right: float, label: str) -> None:
    """Draw a value as a dot on its small scale and as a number."""
    y = top + _ROW / 2
    _line(svg, scale.start, y, scale.end, y, _EDGE)
    ET.SubElement(svg, "circle", {"cx": f"{scale.at(math.log2(value)):.1f}", "cy": f"{y:.1f}", "r": "3.4"})
    _text(svg, right, y + 4.2, label, size=11.5, anchor="end")


def _turns(svg: ET.Element, planned: PlannedLadder, tops: Sequence[float], bottom: float) -> None:
    """Write each turn above its rung, those after the last rung at the end."""
    before = [rung.rung for rung in planned.rungs]
    for rung, top in zip([*before, None], [*tops, bottom], strict=True):
        if turns := _turns_before(planned, rung):
            y = top - 4
            _line(svg, _MARGIN, top - _TURN + 2, _WIDTH - _MARGIN, top - _TURN + 2, _SOFT, stroke_width="0.6")
            ET.SubElement(svg, "path", {"d": f"M{_MARGIN:g},{y - 8:.1f} l7,4 l-7,4 Z", "fill": _SOFT})
            _text(svg, _MARGIN + 13, y, ", then ".join(turns), size=11.5, font_style="italic")


def _legend(svg: ET.Element, stacks: Sequence[tuple[Stack, float]], y: float) -> None:
    for place, (stack, stops) in enumerate(stacks):
        top = y + place * _LEGEND_ROW
        swatch = {"x": f"{_BARS_LEFT:g}", "y": f"{top - 11:.1f}", "width": "34", "height": "14"}
        ET.SubElement(svg, "rect", {**swatch, "fill": f"url(#stack-{place})", "stroke": _INK, "stroke-width": "0.8"})
        strength = f"  ({words.count(stops)} stops)" if stack else ""
        _text(svg, _BARS_LEFT + 44, top, f"{words.filters(stack)}{strength}", size=12)
    ends = "Round end: bulb. Dashed: frames that stand for one. Circle: a test exposure first. ×3: frames."
    _text(svg, _BARS_LEFT, y + len(stacks) * _LEGEND_ROW + 2, ends, size=11, fill=_SOFT)
