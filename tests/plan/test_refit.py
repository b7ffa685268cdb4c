"""A rung through other filters than planned; what is expected was written down before it was run.

Base 1/60 s (exactly 1/64), f/8, ISO 100; ISO stays, the aperture goes from f/8 to f/22, three stops.
"""

from __future__ import annotations

import pytest

from tests.plan.plans import HEAD, abilities_of, plan_of
from tether.exposure.filters import Filter
from tether.plan.ladder import Rung
from tether.plan.planner import make_ladder
from tether.plan.refit import refitted

FILTERS = "".join(f'[[filter]]\nname = "Calder {n}"\nstops = {n}\nmeasured_stops = {n}.0\n' for n in (6, 10))
GRADUATED = '[[filter]]\nname = "Calder grad"\nstops = 3\nkind = "graduated"\nslot = 3\n'
BASE = '[base]\ntime = "1/60"\naperture = "f/8"\niso = 100\n'
TEXT = BASE + '[limits]\naperture = ["f/8", "f/22"]\niso = [100, 100]\n' + FILTERS
Way = tuple[str, str, float]


def found(times: str, dimmer: float, on_lens: tuple[str, ...] = (), more: str = "", **how: object) -> list[Way]:
    """Return the ways to make the last rung in light so much dimmer, as (filters, aperture, time [s])."""
    plan = plan_of(f"{TEXT}{more}[rungs]\ntimes = [{times}]\n", HEAD)
    abilities = abilities_of(plan)
    rung: Rung = max(make_ladder(plan, abilities).rungs, key=lambda one: one.wanted.exact)
    on: tuple[Filter, ...] = tuple(one for name in on_lens for one in plan.filters if one.name == name)
    made = refitted(plan, abilities, rung, on, lambda _fitted: dimmer, **how)  # type: ignore[arg-type]
    assert all(one.wanted == rung.wanted and one.choice.darker_by_stops == 0 for one in made)
    return [
        (" + ".join(each.name for each in one.fitted), one.choice.aperture.label, one.choice.time_s) for one in made
    ]


@pytest.mark.parametrize(
    ("dimmer", "way"),
    [
        # 64 s is 12 stops: Calder 10 and f/16 as planned. Four stops less light leave 8: Calder 6 and f/16.
        (4.0, ("Calder 6", "f/16", 64.0)),
        # Ten stops less leave 2: no filter, and f/16.
        (10.0, ("", "f/16", 64.0)),
        # Six stops more make it 18: both filters, and f/16.
        (-6.0, ("Calder 6 + Calder 10", "f/16", 64.0)),
    ],
)
def test_a_minute_in_light_that_has_moved(dimmer: float, way: Way) -> None:
    (made,) = found('"1:04"', dimmer)
    assert made[:2] == way[:2]
    assert made[2] == pytest.approx(way[2], abs=0.01)


def test_where_no_filters_will_do_there_is_no_way() -> None:
    """Six and a half stops less leave 5.5: more than f/22 alone gives, less than Calder 6."""
    assert found('"1:04"', 6.5) == []


def test_the_stack_that_is_planned_is_none_of_the_other_ways() -> None:
    """In the base's own light only the planned stack does."""
    assert found('"1:04"', 0.0) == []


def test_filters_are_put_on_in_the_order_that_touches_least() -> None:
    """Calder 10 is on: Calder 6 goes on in front of it."""
    assert found('"1:04"', -6.0, ("Calder 10",))[0][0] == "Calder 10 + Calder 6"


def test_only_what_is_on_the_lens_where_that_is_asked() -> None:
    assert found('"1:04"', 4.0, ("Calder 10",), only_on_lens=True) == []
    assert found('"1:04"', 4.0, ("Calder 6",), only_on_lens=True)[0][0] == "Calder 6"


def test_what_else_is_on_stays_on() -> None:
    more = GRADUATED.replace("slot", "swap_s = 5\nslot") + '[[rung]]\ntime = "1:04"\nalso = ["Calder grad"]\n'
    assert found('"1/60"', 4.0, more=more)[0][0] == "Calder 6 + Calder grad"


def test_frames_that_stand_for_one_are_left_as_they_are() -> None:
    """Without a filter on hand an 8 s rung of seven stops less than base is made of many."""
    text = BASE + '[limits]\naperture = ["f/8", "f/22"]\niso = [100, 100]\n[rungs]\ntimes = ["32"]\nmany = "use"\n'
    plan = plan_of(text + FILTERS.split("[[filter]]")[1].join(["[[filter]]", ""]), HEAD)
    abilities = abilities_of(plan)
    (rung,) = make_ladder(plan, abilities).rungs
    assert rung.choice.way == "many"
    assert refitted(plan, abilities, rung, (), lambda _fitted: 4.0) == []
