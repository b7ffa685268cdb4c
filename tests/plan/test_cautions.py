"""Cautions for place, filters and hours: which apply, the most urgent first."""

from __future__ import annotations

from tests.plan.plans import (
    BASE,
    TEN,
    ladder_of,
)


def test_cautions_follow_place_and_filters() -> None:
    river = ladder_of(BASE + '[rungs]\ntimes = ["1/125"]\n').cautions
    assert not any("solar viewer" in one for one in river)
    coast = ladder_of('[place]\nwater = "coast"\n' + BASE + '[rungs]\ntimes = ["8"]\n' + TEN).cautions
    assert any("solar viewer" in one and "ISO 12312-2" in one for one in coast)
    assert any("tide" in one for one in coast)
