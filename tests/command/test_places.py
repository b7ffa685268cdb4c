"""Places as a person writes them."""

from __future__ import annotations

import pytest

from tether.command.places import read_place
from tether.errors import PlanError
from tether.light.spot import Spot


@pytest.mark.parametrize(
    ("text", "latitude", "longitude"),
    [
        ("64.1,-21.9", 64.1, -21.9),
        (" +64 , 21.25 ", 64.0, 21.25),
        ("-90,180", -90.0, 180.0),
        ("0,-180", 0.0, -180.0),
    ],
)
def test_a_place_is_two_numbers_with_a_comma_between(text: str, latitude: float, longitude: float) -> None:
    assert read_place(text) == Spot(latitude=latitude, longitude=longitude)


@pytest.mark.parametrize(
    "text", ["", "Reykjavik", "64.1", "64.1;-21.9", "64.1,", "64,1,-21,9", "1e1,2", "٦٤,٢١", "64.,21", "6400,21"]
)
def test_what_is_none_is_told_from_one_that_is_not_on_the_earth(text: str) -> None:
    assert read_place(text) is None


@pytest.mark.parametrize("text", ["90.01,0", "-91,0", "0,180.5", "-121.9,64.1"])
def test_a_place_beyond_the_poles_or_the_date_line_is_refused(text: str) -> None:
    with pytest.raises(PlanError, match="latitude goes from -90 to 90 degrees and longitude from -180 to 180"):
        read_place(text)
