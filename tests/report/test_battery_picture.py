"""The battery of an evening as a picture: points where the body told it, and nothing of one point."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from xml.etree import ElementTree as ET

import pytest

from tests.report.test_light_picture import SVG, between
from tether.report.battery_picture import battery_picture
from tether.report.evening_told import Evening

LEAVE_S = datetime(2026, 10, 3, 18, 40, tzinfo=UTC).timestamp()


def evening(*told: tuple[float, float]) -> Evening:
    """Return an evening by what the body told of its battery: minutes until leaving, and the share that was left."""
    battery = tuple((LEAVE_S - 60 * minutes, share) for minutes, share in told)
    return Evening(begins_s=LEAVE_S - 3600, leave_s=LEAVE_S, battery=battery)


@pytest.mark.parametrize("width", [280, 358, 1200])
def test_points_stand_at_their_minute_and_at_how_full_it_was(width: float) -> None:
    svg = battery_picture(evening((58, 0.97), (30, 0.41), (12, 1.0)), width, None)
    assert svg is not None
    root = ET.fromstring(svg)  # noqa: S314 (our own text)
    labels = [(one.text or "", one.attrib) for one in root.iter(f"{SVG}text")]
    minutes = [(float(said), float(at["x"])) for said, at in labels if re.fullmatch(r"\d+", said)]
    shares = [(float(said[:-1]) / 100, float(at["y"]) - 4.5) for said, at in labels if said.endswith("%")]
    dots = [(float(one.get("cx", "")), float(one.get("cy", ""))) for one in root.iter(f"{SVG}circle")]
    assert [between(x, minutes) for x, _ in dots] == pytest.approx([58, 30, 12], abs=0.15)
    assert [between(y, shares) for _, y in dots] == pytest.approx([0.97, 0.41, 1.0], abs=0.01)


@pytest.mark.parametrize("told", [(), ((30, 0.5),), ((30, 0.5), (30, 0.5))], ids=["none", "one", "one moment"])
def test_no_course_is_drawn_of_one_moment(told: tuple[tuple[float, float], ...]) -> None:
    assert battery_picture(evening(*told), 358, None) is None
