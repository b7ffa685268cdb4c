"""The light of an evening as a picture: points stand where the numbers say, by the labels that a person reads."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from xml.etree import ElementTree as ET

import pytest

from tether.report.drawing import Scale
from tether.report.evening_told import Correction, Evening, LightPoint
from tether.report.light_picture import label_rows, light_picture

SVG = "{http://www.w3.org/2000/svg}"
LEAVE_S = datetime(2026, 10, 3, 18, 40, tzinfo=UTC).timestamp()


def before(minutes: float) -> float:
    """Return the moment so many minutes before leaving."""
    return LEAVE_S - 60 * minutes


def point(frame: int, minutes: float, stops: float, *, bare: bool = True, doubt: float = 0.01) -> LightPoint:
    return LightPoint(frame=frame, at_s=before(minutes), stops=stops, doubt_stops=doubt, bare=bare)


#: Written down before anything was drawn: minutes until leaving and stops.
POINTS = (
    point(1, 60, 0.0),
    point(4, 52.5, -0.3, bare=False, doubt=0.12),
    point(9, 31, -1.25, bare=False),
    point(12, 20, -2.1),
)
EVENING = Evening(
    begins_s=before(60),
    leave_s=LEAVE_S,
    light=POINTS,
    expected=((before(60), 0.0), (before(30), -1.0), (before(0), -3.0)),
    corrections=(
        Correction(rung=3, at_s=before(52.5), stops=1 / 3),
        Correction(rung=6, at_s=before(31), stops=-0.25),
    ),
)


class Read:
    """A picture as a person reads it: by the labels of its axes."""

    def __init__(self, svg: str) -> None:
        self.root = ET.fromstring(svg)  # noqa: S314 (our own text)
        labels = [one for one in self.root.iter(f"{SVG}text") if re.fullmatch(r"[+−]?[\d.]+", one.text or "")]
        rows = [one for one in labels if one.get("text-anchor") == "end"]
        columns = [one for one in labels if one.get("class") == "soft" and one.get("text-anchor") == "middle"]
        self.rows = [(number(one), float(one.get("y", "")) - 4.5) for one in rows]
        self.columns = [(number(one), float(one.get("x", ""))) for one in columns]

    def minutes(self, x: float) -> float:
        return between(x, self.columns)

    def stops(self, y: float) -> float:
        return between(y, self.rows)

    def of(self, tag: str, kind: str) -> list[ET.Element]:
        return [one for one in self.root.iter(f"{SVG}{tag}") if one.get("class") == kind]

    def points(self, kind: str) -> list[tuple[float, float]]:
        """Return minutes and stops of the points of a kind; those of the explanation stand below the last label."""
        lowest = max(y for _, y in self.rows)
        found = [(float(one.get("cx", "")), float(one.get("cy", ""))) for one in self.of("circle", kind)]
        return [(self.minutes(x), self.stops(y)) for x, y in found if y <= lowest]


def number(label: ET.Element) -> float:
    return float((label.text or "").replace("−", "-"))


def between(px: float, labels: list[tuple[float, float]]) -> float:
    (one, at_one), (other, at_other) = labels[0], labels[-1]
    return one + (px - at_one) / (at_other - at_one) * (other - one)


def read(evening: Evening = EVENING, *, width: float = 358, now_s: float | None = None) -> Read:
    svg = light_picture(evening, width, now_s)
    assert svg is not None
    return Read(svg)


@pytest.mark.parametrize("width", [280, 358, 560, 1200])
def test_points_stand_where_their_numbers_say(width: float) -> None:
    found = read(width=width)
    minutes, stops = zip(*found.points("bare"), *found.points("filtered"), strict=True)
    assert minutes == pytest.approx((60, 20, 52.5, 31), abs=0.1)
    assert stops == pytest.approx((0.0, -2.1, -0.3, -1.25), abs=0.01)


def test_what_is_doubted_is_drawn_as_wide_as_ninety_five_of_a_hundred() -> None:
    """0.12 stop of doubt: 0.24 to either side of -0.3; those of 0.01 are within their points."""
    found = read()
    (doubt,) = found.of("line", "doubt")
    ends = sorted(found.stops(float(doubt.get(name, ""))) for name in ("y1", "y2"))
    assert ends == pytest.approx([-0.54, -0.06], abs=0.01)
    assert found.minutes(float(doubt.get("x1", ""))) == pytest.approx(52.5, abs=0.1)


def test_the_expected_light_goes_through_its_moments() -> None:
    found = read()
    course = found.of("polyline", "expected")[0].get("points", "")
    places = [tuple(map(float, place.split(","))) for place in course.split()]
    told = [(found.minutes(x), found.stops(y)) for x, y in places]
    assert [one for place in told for one in place] == pytest.approx([60, 0.0, 30, -1.0, 0, -3.0], abs=0.1)


def test_corrections_stand_at_their_moment_point_to_brighter_or_darker_and_say_by_how_much() -> None:
    found = read()
    marks = found.of("polygon", "correction")[:2]
    corners = [[tuple(map(float, one.split(","))) for one in mark.get("points", "").split()] for mark in marks]
    assert [found.minutes(tips[0][0]) for tips in corners] == pytest.approx([52.5, 31], abs=0.1)
    assert [tips[0][1] < tips[1][1] for tips in corners] == [True, False]  # up is brighter
    assert [one.text for one in found.of("text", "strong")] == ["+0.33", "−0.25"]


def test_labels_of_corrections_that_are_close_stand_in_rows() -> None:
    close = [Correction(rung=one, at_s=float(one), stops=0.5) for one in (1, 2, 3)]
    assert label_rows(close, Scale(low=0, high=10, start=0, end=100)) == [0, 1, 2]
    assert label_rows(close, Scale(low=0, high=10, start=0, end=1000)) == [0, 0, 0]


def test_the_present_moment_stands_at_its_minute_and_says_how_fast_it_goes() -> None:
    found = read(now_s=before(15))
    (now,) = found.of("g", "now")
    assert found.minutes(float(now.get("data-at", ""))) == pytest.approx(15, abs=0.1)
    one_minute_later = float(now.get("data-at", "")) + 60 * float(now.get("data-px-per-s", ""))
    assert found.minutes(one_minute_later) == pytest.approx(14, abs=0.1)
    assert not read().of("g", "now")


def test_leaving_is_said_and_is_a_line_of_its_own() -> None:
    found = read()
    (leave,) = found.of("line", "leave")
    assert found.minutes(float(leave.get("x1", ""))) == pytest.approx(0, abs=0.1)
    local = datetime.fromtimestamp(LEAVE_S).astimezone()
    assert f"minutes until you leave at {local:%H:%M}" in [one.text for one in found.root.iter(f"{SVG}text")]


def test_only_what_is_drawn_is_explained() -> None:
    said = {one.text for one in read(replace(EVENING, expected=(), corrections=())).root.iter(f"{SVG}text")}
    assert {"frame without filters", "frame through filters"} <= said
    assert not {"expected by sun and plan", "exposure corrected, stops"} & said


@pytest.mark.parametrize("light", [(), POINTS[:1]], ids=["none", "one"])
def test_no_course_is_drawn_of_less_than_two_frames(light: tuple[LightPoint, ...]) -> None:
    assert light_picture(replace(EVENING, light=light), 358, None) is None
