"""A ladder over an evening as a picture: a row a rung, its bars from when to when it was open, or is expected to be.

What is done is full, what is open is half of it, what is to come is dashed; a line that the page moves is now.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from tether.report.drawing import (
    Key,
    Scale,
    draw_keys,
    draw_minutes,
    draw_now,
    keys_height,
    minutes_axis,
    picture,
    shape,
    text,
    wide_px,
    wrapped,
    written,
)
from tether.report.evening_told import Evening, Point, Present, RungCourse, expected_spans

# Where things are [px].
_NUMBER, _LABEL, _LEFT, _RIGHT, _TOP = 32.0, 40.0, 122.0, 18.0, 46.0
_ROW, _BAR, _TASK_ROW, _UNDER_AXIS = 23.0, 13.0, 17.0, 48.0
#: A bar is no narrower than this, and words stand so far beside it [px].
_LEAST_PX, _BESIDE = 3.0, 6.0
#: The axis goes on to leaving where that makes it no longer than so many times the ladder.
_TO_LEAVING = 1.5
_AS_PLANNED = ("done", "done, differs")


@dataclass(frozen=True, kw_only=True)
class _Row:
    """A rung with where its row begins [px] and what stands in it."""

    rung: RungCourse
    top: float
    tasks: tuple[str, ...]
    expected: Point | None
    open: Point | None
    in_hand: bool
    says: str

    @property
    def middle(self) -> float:
        return self.top + len(self.tasks) * _TASK_ROW + _ROW / 2


def rungs_picture(evening: Evening, width: float, present: Present | None) -> str | None:
    """Draw a ladder over its evening.

    Parameters
    ----------
    evening
        What is drawn.
    width
        How wide the picture is [px].
    present
        How the run stands; None: it is over.

    Returns
    -------
    str or None
        SVG whose tones are left to the page; None where nothing was begun yet.
    """
    if evening.begins_s is None and present is None:
        return None
    rows = list(_rows(evening, width, present))
    if not rows:
        return None
    ends = [one.expected[1] for one in rows if one.expected] + [one.open[1] for one in rows if one.open]
    at_s = present.at_s if present else None
    minutes = minutes_axis(evening, _LEFT, width - _RIGHT, at_s, ends_s=max(ends, default=0.0), at_most=_TO_LEAVING)
    bottom = rows[-1].middle + _ROW / 2 + 4
    keys = list(_keys(rows))
    svg = picture("The ladder over the evening", width, bottom + _UNDER_AXIS + keys_height(keys, width))
    text(svg, 0, 14, "Ladder: when each rung is open", "soft")
    draw_minutes(svg, minutes, _TOP, bottom)
    for row in rows:
        for span, kind in _bars(row):
            left, wide = _place(span, minutes.scale)
            shape(svg, "rect", kind, x=left, y=row.middle - _BAR / 2, width=wide, height=_BAR)
    if at_s is not None:
        draw_now(svg, minutes, at_s, _TOP, bottom)
    for row in rows:
        _draw_words(svg, row, minutes.scale, width)
    draw_keys(svg, keys, bottom + _UNDER_AXIS, width, _draw_key)
    return written(svg)


def _rows(evening: Evening, width: float, present: Present | None) -> Iterator[_Row]:
    top = _TOP + 4
    expected = expected_spans(evening, present)
    for rung in evening.rungs:
        in_hand = present is not None and present.rung == rung.rung
        row = _Row(
            rung=rung,
            top=top,
            tasks=tuple(part for task in rung.tasks for part in wrapped(task, width - _LABEL)),
            expected=expected.get(rung.rung),
            open=present.open if present and in_hand else None,
            in_hand=in_hand,
            says=_says(rung, evening),
        )
        top = row.middle + _ROW / 2
        yield row


def _says(rung: RungCourse, evening: Evening) -> str:
    """Return what is to be said of a rung that was not taken as planned."""
    if rung.outcome is None:
        return "not taken" if evening.over and not rung.spans else ""
    return "" if rung.outcome in _AS_PLANNED else rung.outcome


def _place(span: Point, minutes: Scale) -> tuple[float, float]:
    """Return where a bar begins, and how wide it is [px]."""
    left = minutes.at(span[0])
    return left, max(minutes.at(span[1]) - left, _LEAST_PX)


def _draw_words(svg: ET.Element, row: _Row, minutes: Scale, width: float) -> None:
    for number, task in enumerate(row.tasks):
        text(svg, _LABEL, row.top + number * _TASK_ROW + 13, task, "task")
    line_y = row.middle + 4.5
    if row.in_hand:
        _draw_key(svg, "hand", 5, row.middle)
    text(svg, _NUMBER, line_y, str(row.rung.rung), "soft", "end")
    text(svg, _LABEL, line_y, row.rung.label, "strong" if row.in_hand else "")
    if row.says:
        ends = [sum(_place(span, minutes)) for span, _ in _bars(row)]
        _draw_beside(svg, row, minutes, max(ends, default=minutes.start), width)


def _bars(row: _Row) -> Iterator[tuple[Point, str]]:
    yield from ((span, "done") for span in row.rung.spans)
    if row.open:
        yield row.open, "open"
    if row.expected:
        yield row.expected, "to-come"


def _draw_beside(svg: ET.Element, row: _Row, minutes: Scale, end: float, width: float) -> None:
    """Say what became of a rung, right of its bars, or left of them where there is no room."""
    y = row.middle + 4.5
    if end + _BESIDE + wide_px(row.says) <= width:
        text(svg, end + _BESIDE, y, row.says, "soft")
    else:
        first = minutes.at(row.rung.spans[0][0]) if row.rung.spans else width
        text(svg, first - _BESIDE, y, row.says, "soft", "end")


def _keys(rows: list[_Row]) -> Iterator[Key]:
    """Yield what is explained below: what is drawn, and what it is."""
    kinds = {kind for row in rows for _, kind in _bars(row)}
    if kinds == {"done"}:
        return
    if any(row.in_hand for row in rows):
        yield "hand", "in hand"
    for kind, label in (("done", "done"), ("open", "open now"), ("to-come", "to come, about")):
        if kind in kinds:
            yield kind, label


def _draw_key(svg: ET.Element, kind: str, x: float, y: float) -> None:
    if kind == "hand":
        shape(svg, "polygon", kind, points=f"{x - 5:.1f},{y - 5:.1f} {x + 5:.1f},{y:.1f} {x - 5:.1f},{y + 5:.1f}")
    else:
        shape(svg, "rect", kind, x=x - 8, y=y - _BAR / 2, width=16, height=_BAR)
