"""A rung solved again: for what the body took instead, or for what the person wants."""

from __future__ import annotations

from math import log2

import pytest

from tests.plan.plans import (
    MIRROR,
    TEN,
    a_choice,
    abilities_of,
    plan_of,
)
from tether.exposure.filters import Filter
from tether.exposure.labels import parse_aperture, parse_iso, parse_time
from tether.plan.again import solve_again
from tether.plan.ladder import Choice
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


SLOW = '[base]\ntime = "1/60"\naperture = "f/11"\niso = 200\n[rungs]\ntimes = ["1/60"]\n'


def solved(text: str = SLOW, **taken: float) -> Choice | None:
    plan = plan_of(text)
    choice = a_choice(time_s=2**-6, time_label="1/60", aperture=parse_aperture("f/11"), iso=parse_iso("200"))
    return solve_again(plan, abilities_of(plan), choice, parse_time("1/60"), **taken)


def settings_of(choice: Choice | None) -> tuple[str, str, str] | None:
    return None if choice is None else (choice.time_label, choice.aperture.label, choice.iso.label)


def test_what_the_body_took_stays_and_the_rest_makes_up_for_it() -> None:
    """A stop more by ISO is a stop narrower, and a stop more by aperture an ISO half as high."""
    assert settings_of(solved()) == ("1/60", "f/11", "200")
    assert settings_of(solved(iso=400.0)) == ("1/60", "f/16", "400")
    assert settings_of(solved(aperture=8.0)) == ("1/60", "f/8", "100")


def test_where_the_limits_leave_nothing_that_makes_up_for_it_there_is_none() -> None:
    assert solved(SLOW + "[limits]\niso = [200, 200]\n", aperture=8.0) is None
    assert solved(iso=123.0) is None, "a value that the body has no mark for"


def test_brighter_is_what_the_person_asked_for() -> None:
    found = solved(brighter_by_stops=1.0, aperture=2**3.5)
    assert settings_of(found) == ("1/60", "f/11", "400")


def test_many_stay_many() -> None:
    plan = plan_of('[base]\ntime = "1/30"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["2m"]\n', head=MIRROR)
    ten = Filter.of("ten", stops=10)
    many = a_choice(way="many", time_s=32.0, time_label="30", frames=4, stack=(ten,), filter_stops=10.0)
    found = solve_again(plan, abilities_of(plan), many, parse_time("2m"))
    assert found is not None
    assert (found.way, found.frames, found.stack) == ("many", 4, (ten,))
