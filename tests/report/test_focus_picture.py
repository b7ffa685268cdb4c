"""The course of sharpness as a picture: heights by its shares of the best, the last one as a dot."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest

from tests.report.test_light_picture import SVG
from tether.report.focus_picture import focus_picture


def test_heights_go_with_the_share_of_the_best_and_the_last_is_a_dot() -> None:
    svg = focus_picture((0.02, 0.04, 0.03), 0.04)
    assert svg is not None
    root = ET.fromstring(svg)  # noqa: S314 (our own text)
    (course,) = root.iter(f"{SVG}polyline")
    points = [tuple(map(float, one.split(","))) for one in course.get("points", "").split()]
    top, floor = (
        float(next(one for one in root.iter(f"{SVG}line") if one.get("class") == kind).get("y1", ""))
        for kind in ("low", "zero")
    )
    assert [(floor - y) / (floor - top) for _, y in points] == pytest.approx([0.5, 1.0, 0.75], abs=0.01)
    (dot,) = root.iter(f"{SVG}circle")
    assert (float(dot.get("cx", "")), float(dot.get("cy", ""))) == points[-1]


@pytest.mark.parametrize(("trace", "best"), [((), 0.1), ((0.1,), 0.1), ((0.0, 0.0), 0.0)])
def test_no_course_is_drawn_of_one_picture_or_of_the_dark(trace: tuple[float, ...], best: float) -> None:
    assert focus_picture(trace, best) is None
