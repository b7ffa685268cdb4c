"""What follows of readings by themselves: sharpness beside what was expected, and how far the picture moved."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.journal.shown import readings
from tether.journal.readings import Sharpness, lost_beyond

SHARP = Sharpness(lost=0.0, uncertainty=0.0, lower=0.0, upper=0.0, along_px2=0.0, across_px2=0.0, along_deg=0.0)


@pytest.mark.parametrize(
    ("lost", "expected", "beyond"),
    [(0.3, None, 0.3), (0.3, 0.0, 0.3), (0.44, 0.3, 0.2), (0.3, 0.3, 0.0), (0.0, 0.2, -0.25)],
)
def test_what_the_aperture_takes_is_not_lost_twice(lost: float, expected: float | None, beyond: float) -> None:
    """Of what the aperture leaves: 0.56 of 0.7 are four fifths, so a fifth is lost beside."""
    found = replace(SHARP, lost=lost)
    assert lost_beyond(found, None if expected is None else replace(SHARP, lost=expected)) == pytest.approx(beyond)


def test_where_nothing_tells_the_sharpness_nothing_is_known_to_be_lost() -> None:
    assert lost_beyond(None, SHARP) is None
    assert readings(moved=(1.0, 0.0)).sharpness_lost is None


def test_a_frame_says_how_far_it_moved_and_is_off_where_that_is_known() -> None:
    """Three to the right and four down are five."""
    assert readings(moved=(3.0, 4.0)).moved_px == 5.0
    assert readings(off_stops=-0.3).off_stops == -0.3
    assert (readings().moved_px, readings().off_stops, readings().sharpness_lost) == (None, None, None)
