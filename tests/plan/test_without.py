"""The rest of a ladder without a filter that is not in the bag; what is expected was worked out by hand in stops.

Base 1/60 s (exactly 1/64), f/8, ISO 100; the aperture goes from f/8 to f/22, three stops.
"""

from __future__ import annotations

import pytest

from tests.plan.plans import abilities_of, plan_of
from tether.plan.planner import make_ladder
from tether.plan.without import Without, without

FILTERS = "".join(f'[[filter]]\nname = "Calder {n}"\nstops = {n}\nmeasured_stops = {n}.0\n' for n in (6, 10))
SOFT = '[[filter]]\nname = "Soft 2"\nstops = 2\nkind = "graduated"\n'


def found(times: str, name: str, left: set[int], iso: int = 100, more: str = "", rungs: str = "") -> Without:
    plan = plan_of(
        f"""[base]\ntime = "1/60"\naperture = "f/8"\niso = 100
[limits]\naperture = ["f/8", "f/22"]\niso = [100, {iso}]
[rungs]\ntimes = [{times}]\n{rungs}{FILTERS}{more}"""
    )
    abilities = abilities_of(plan)
    return without(plan, abilities, make_ladder(plan, abilities), name, left)


def through(made: Without) -> list[str]:
    return [" + ".join(one.name for one in rung.fitted) for rung in made.ladder.rungs]


def test_a_rung_that_another_filter_makes_is_made_with_that_and_the_others_stay_as_they_are() -> None:
    """1 s is 6 stops: Calder 6, or Calder 10 and ISO 1600. A minute is 12: Calder 10 and f/16 in any case."""
    made = found('"1/60", "1", "1:04"', "Calder 6", {2, 3}, iso=1600)
    assert (made.lost, made.said) == (frozenset(), "rung 2 is made with Calder 10")
    assert through(made) == ["", "Calder 10", "Calder 10"]
    second = made.ladder.rungs[1]
    assert (second.choice.iso.label, second.wanted.label, second.number) == ("1600", "1", 2)
    assert [one.name for one in made.plan.filters] == ["Calder 10"]
    changes = [(one.before_rung, one.what) for one in made.ladder.turns if one.kind == "change filters"]
    assert changes == [(2, "fit Calder 10")]


def test_a_rung_that_nothing_else_makes_is_lost_and_nothing_is_asked_for_it() -> None:
    """8 s is 9 stops: Calder 6 and f/22, and there it is a rung already; a minute would need 12."""
    made = found('"1/60", "8", "1:04"', "Calder 10", {1, 2, 3})
    assert (made.lost, made.said) == (frozenset({3}), "rung 3 is lost: nothing else makes it")
    assert len(made.ladder.rungs) == 3
    assert [one.before_rung for one in made.ladder.turns if one.kind == "change filters"] == [2]
    assert made.ladder.darks[-1].time_s == pytest.approx(8, rel=0.01), "no dark frame of a minute"
    assert made.ladder.forecast.exposing_s < 30


def test_the_nearest_time_is_made_instead_where_there_is_none_of_it_yet() -> None:
    made = found('"1/60", "1:04"', "Calder 10", {2})
    assert (made.lost, made.said) == (frozenset(), "rung 2 is made with Calder 6 at 8 s, the nearest possible")
    assert made.ladder.rungs[1].asked.label == "1:04"


def test_rungs_that_are_over_stay_as_they_were_made() -> None:
    made = found('"1", "1:04"', "Calder 10", {1})
    assert (made.lost, through(made)) == (frozenset(), ["Calder 6", "Calder 10"])
    assert made.said == "no rung that is left needs it"


def test_a_frame_of_a_bracket_goes_with_its_rung() -> None:
    """A minute a stop darker is half a minute: 11 stops, of which Calder 6 and f/22 make nine."""
    rungs = '[[rung]]\ntime = "1:04"\nbracket = [-1.0]\n'
    made = found('"1/60", "8"', "Calder 10", {1, 2, 3, 4}, rungs=rungs)
    assert made.lost == frozenset({3, 4})
    assert made.said == "rungs 3 and 4 are lost: nothing else makes them"


def test_a_graduated_filter_is_asked_for_nowhere_any_more() -> None:
    made = found('"1/60", "1"', "Soft 2", {1, 2}, more=SOFT, rungs='also = ["Soft 2"]\n')
    assert through(made) == ["", "Calder 6"]
    assert made.said == "rung 1 is made with no filter; rung 2 is made with Calder 6"
