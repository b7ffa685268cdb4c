"""A base exposure that is found through filters which stay on, told as it is without them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.plan.plans import BASE, abilities_of, plan_of
from tether.capture.through import longer, without
from tether.exposure.filters import Filter
from tether.exposure.labels import parse_aperture, parse_iso, parse_time
from tether.shot.shot import Shot, timed

TIMES = abilities_of(plan_of(BASE + '[rungs]\ntimes = ["1/125"]\n')).times
SIX = Filter.of("Calder 6", stops=6, measured_stops=6.0, uncertainty_stops=0.03)
TEN = Filter.of("Calder 10", density=3.0)


def shot(time: str) -> Shot:
    return timed(parse_time(time), parse_aperture("f/8"), parse_iso("100"))


@pytest.mark.parametrize(
    ("time", "stops", "starts"),
    [("1/125", 0.0, "1/125"), ("1/125", 6.0, "0.5"), ("1/125", 10.0, "8"), ("1/60", 10.0, None), ("1/125", 16.0, None)],
)
def test_a_search_begins_so_much_longer_as_the_filters_take_and_not_where_that_is_too_long(
    time: str, stops: float, starts: str | None
) -> None:
    found = longer(TIMES, parse_time(time), stops)
    assert (found.label if found else None) == starts


def test_without_the_filters_it_is_so_much_shorter_and_the_headroom_less_what_they_are_not_known_to() -> None:
    """Half a second through six stops is 1/128 s without."""
    found = without(shot("0.5"), 0.8, [SIX], TIMES)
    assert found.shot.time_label == "1/125"
    assert found.shot.time_s == pytest.approx(1 / 128)
    assert found.headroom_stops == pytest.approx(0.8 - 0.03)
    assert without(shot("0.5"), 0.8, [], TIMES).shot.time_label == "0.5"


def test_it_is_never_brighter_than_what_was_found_and_headroom_is_never_less_than_nothing() -> None:
    odd = replace(SIX, measured_stops=6.2)
    found = without(shot("0.5"), 0.1, [odd], TIMES)
    assert found.shot.time_label == "1/160", "1/147 s lies between two times of the body"
    assert found.headroom_stops == pytest.approx(0.1 + 0.13 - 0.03, abs=0.01)
    assert without(shot("8"), 0.5, [TEN], TIMES).headroom_stops == 0.0, "ten stops by its label may be a stop off"
