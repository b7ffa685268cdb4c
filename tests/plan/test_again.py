"""A rung solved again: for what the body took instead, or for what the person wants."""

from __future__ import annotations

from math import log2

import pytest

from tests.plan.plans import (
    TEN,
    abilities_of,
    plan_of,
)
from tether.plan.again import solve_again
from tether.plan.planner import make_ladder


def test_a_rung_of_a_bracket_that_is_solved_again_keeps_its_aperture_and_its_stops() -> None:
    text = '[base]\ntime = "1/4"\naperture = "f/8"\niso = 100\n[[rung]]\ntime = "4:16"\nbracket = [2]\n' + TEN
    plan = plan_of(text)
    bright = make_ladder(plan, abilities_of(plan)).rungs[1]
    again = solve_again(plan, abilities_of(plan), bright.choice, bright.wanted, brighter_by_stops=1 / 3)
    assert again is not None
    assert (again.aperture, again.bracket_stops) == (bright.choice.aperture, 2)
    gained = log2(again.time_s / bright.choice.time_s) + log2(again.iso.exact / bright.choice.iso.exact)
    assert gained == pytest.approx(1 / 3, abs=1e-6)
