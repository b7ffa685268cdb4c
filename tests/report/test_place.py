"""A place in the terminal and as data: its outings, its last framing, its filters with date and doubt."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from tests.report.printing import printed
from tests.report.test_done_before import SCHEMA, done
from tether.plan.file import Place
from tether.plan.measured import MeasuredFilter
from tether.report.done_before import outings_json
from tether.report.filters_told import Strength
from tether.report.place import Framing, PlaceKnown, PlaceView, known_json

SIX = MeasuredFilter(
    name="Calder 6", stops=5.938, uncertainty_stops=0.06, measured_on=date(2026, 10, 3), with_body="Simulated body",
    simulated=True,
)  # fmt: skip
KNOWN = PlaceKnown(
    place=Place(name="Elbow weir"),
    outings=(done(),),
    framing=Framing(preview=Path("/outings/weir/previews/a.jpg"), begun_utc=datetime(2026, 10, 3, 12, tzinfo=UTC)),
    filters=(Strength(found=SIX, how="in weir"),),
)


@pytest.mark.parametrize("width", [80, 120])
def test_all_of_it_is_told_within_the_width(width: int) -> None:
    page = printed(PlaceView(KNOWN), width)
    assert all(len(line) <= width for line in page.splitlines())
    words = " ".join(page.split())
    assert "Framed last 2026-10-03 /outings/weir/previews/a.jpg" in words
    assert "Calder 6 5.94 0.06 2026-10-03 in weir, simulated" in words


def test_a_place_where_nobody_was_is_said_so() -> None:
    nothing = PlaceKnown(place=Place(name="Moor"), outings=(), framing=None, filters=())
    assert "No outing is known at Moor." in printed(PlaceView(nothing), 80)


@pytest.mark.parametrize(
    "known", [KNOWN, PlaceKnown(place=Place(latitude=1, longitude=2), outings=(), framing=None, filters=())]
)
def test_as_data_it_is_valid_by_the_schema(known: PlaceKnown) -> None:
    data = outings_json(known.outings, (), place=known_json(known))
    Draft202012Validator(SCHEMA).validate(json.loads(json.dumps(data, allow_nan=False)))
