"""Cautions for place, filters and hours: which apply, the most urgent first."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from tests.plan.plans import (
    BASE,
    TEN,
    ladder_of,
)
from tether.plan.cautions import cautions, dark_caution, sun_at, sun_cautions
from tether.plan.file import Place


def test_cautions_follow_place_and_filters() -> None:
    river = ladder_of(BASE + '[rungs]\ntimes = ["1/125"]\n').cautions
    assert not any("solar viewer" in one for one in river)
    coast = ladder_of('[place]\nwater = "coast"\n' + BASE + '[rungs]\ntimes = ["8"]\n' + TEN).cautions
    assert any("solar viewer" in one and "ISO 12312-2" in one for one in coast)
    assert any("tide" in one for one in coast)


ROCK, SUN, IN_FRAME, DARK = "Wet rock", "A photographic filter", "With the Sun in the frame", "For long waits"
WEIR, ICE, DRY = "A weir", "Ice", "In rain and spray"


def begins(said: tuple[str, ...]) -> list[str]:
    return [
        next(one for one in (ROCK, SUN, IN_FRAME, DARK, WEIR, ICE, DRY, "Water", "Read") if text.startswith(one))
        for text in said
    ]


@pytest.mark.parametrize(
    ("place", "strongest_stops", "total_s", "told"),
    [
        (Place(water="lake"), 0.0, 0.0, [ROCK, DRY]),
        (Place(), 5.9, 599.0, [ROCK, "Water", DRY]),
        (Place(), 6.0, 600.0, [SUN, ROCK, "Water", DRY, DARK]),
        (Place(water="weir", cold=True), 0.0, 0.0, [ROCK, WEIR, ICE, DRY]),
        (Place(water="coast", sun_in_frame=True), 0.0, 0.0, [SUN, IN_FRAME, ROCK, "Read", DRY]),
    ],
)
def test_the_most_urgent_comes_first(place: Place, strongest_stops: float, total_s: float, told: list[str]) -> None:
    assert begins(cautions(place, strongest_stops, total_s)) == told


def test_a_time_out_brings_the_sun_the_dark_or_neither() -> None:
    assert sun_cautions(sun_up=False, dark=False) == ()
    assert begins(sun_cautions(sun_up=True, dark=False)) == [SUN]
    assert begins(sun_cautions(sun_up=True, dark=True)) == [SUN, DARK]


@pytest.mark.parametrize(
    ("place", "words"),
    [
        (Place(water="weir"), ("undertow", "without warning", "siren", "signs")),
        (Place(cold=True), ("Ice", "local warnings")),
        (Place(), ("power bank", "open ports", "cable")),
        (Place(sun_in_frame=True), ("focus by live view", "never through an optical viewfinder", "comes off")),
    ],
)
def test_each_danger_is_named_and_short(place: Place, words: tuple[str, ...]) -> None:
    said = cautions(place, 0.0, 0.0)
    assert any(all(word in one for word in words) for one in said)
    assert all(len(one) < 240 for one in said)


#: At Greenwich civil dusk was at 18:47 UTC on the day of the March equinox of 2024, sunset at 18:14 (US Naval
#: Observatory, as tests/light has it by its own almanac).
SPOT = Place(latitude=51.48, longitude=0.0)


def equinox(hour: int, minute: int) -> datetime:
    return datetime(2024, 3, 20, hour, minute, tzinfo=UTC)


@pytest.mark.parametrize(
    ("place", "begins", "said"),
    [
        (SPOT, equinox(17, 0), None),
        (SPOT, equinox(17, 50), "It gets dark here at "),
        (SPOT, equinox(19, 30), "It is dark here"),
        (Place(), equinox(19, 30), None),
        (SPOT, None, None),
    ],
)
def test_the_dark_is_told_by_the_suns_altitude_with_the_way_back(
    place: Place, begins: datetime | None, said: str | None
) -> None:
    found = dark_caution(place, begins, 1800.0)
    assert (found or "").startswith(said or "")
    assert (found is None) == (said is None)
    assert found is None or all(word in found for word in ("way back", "headlamp", "spare light"))


@pytest.mark.parametrize(
    ("place", "at", "shows"),
    [
        (Place(sun_in_frame=True), equinox(12, 0), True),
        (Place(), equinox(12, 0), False),
        (SPOT, equinox(12, 0), True),
        (SPOT, equinox(18, 30), False),
        (SPOT.model_copy(update={"sun_in_frame": True}), equinox(18, 30), False),
    ],
)
def test_the_sun_is_spoken_of_where_it_is_up_or_not_known_to_be_down(place: Place, at: datetime, shows: bool) -> None:
    assert sun_at(place, at) == shows
