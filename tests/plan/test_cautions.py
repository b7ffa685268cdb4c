"""Cautions for place, filters and hours: which apply, the most urgent first."""

from __future__ import annotations

import pytest

from tests.plan.plans import (
    BASE,
    TEN,
    ladder_of,
)
from tether.plan.cautions import cautions, sun_cautions
from tether.plan.file import Place


def test_cautions_follow_place_and_filters() -> None:
    river = ladder_of(BASE + '[rungs]\ntimes = ["1/125"]\n').cautions
    assert not any("solar viewer" in one for one in river)
    coast = ladder_of('[place]\nwater = "coast"\n' + BASE + '[rungs]\ntimes = ["8"]\n' + TEN).cautions
    assert any("solar viewer" in one and "ISO 12312-2" in one for one in coast)
    assert any("tide" in one for one in coast)


ROCK, SUN, IN_FRAME, DARK = "Wet rock", "A photographic filter", "With the Sun in the frame", "For long waits"


def begins(said: tuple[str, ...]) -> list[str]:
    return [next(one for one in (ROCK, SUN, IN_FRAME, DARK, "Water", "Read") if text.startswith(one)) for text in said]


@pytest.mark.parametrize(
    ("place", "strongest_stops", "total_s", "told"),
    [
        (Place(water="lake"), 0.0, 0.0, [ROCK]),
        (Place(), 5.9, 599.0, [ROCK, "Water"]),
        (Place(), 6.0, 600.0, [SUN, ROCK, "Water", DARK]),
        (Place(water="coast", sun_in_frame=True), 0.0, 0.0, [SUN, IN_FRAME, ROCK, "Read"]),
    ],
)
def test_the_most_urgent_comes_first(place: Place, strongest_stops: float, total_s: float, told: list[str]) -> None:
    assert begins(cautions(place, strongest_stops, total_s)) == told


def test_a_time_out_brings_the_sun_the_dark_or_neither() -> None:
    assert sun_cautions(sun_up=False, dark=False) == ()
    assert begins(sun_cautions(sun_up=True, dark=False)) == [SUN]
    assert begins(sun_cautions(sun_up=True, dark=True)) == [SUN, DARK]
