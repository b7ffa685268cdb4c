"""A new plan file: it can be read, says what was answered, and tells of what makes no plan."""

from __future__ import annotations

import pytest

from tether.errors import PlanError
from tether.exposure.strengths import read_strength
from tether.light.spot import Spot
from tether.plan.file import plan_from_text
from tether.plan.new import Answers, NewFilter, new_plan


def test_what_is_written_says_what_was_answered() -> None:
    answers = Answers(
        title='The "long" weir, Öxará',
        body="simulated-mirror",
        focal_mm=70.5,
        widest="f/4",
        narrowest="f/32",
        base_time="1/4",
        base_aperture="f/11",
        base_iso="200",
        shortest="1/60",
        longest="2m",
        filters=tuple(
            NewFilter(name=name, strength=read_strength(text))
            for name, text in (('Calder "6"', "6 stops"), ("Ten", "10 stops"))
        ),
        spot=Spot(latitude=-41.28664, longitude=174.8),
    )
    plan = plan_from_text(new_plan(answers))
    assert (plan.top.title, plan.body.file) == ('The "long" weir, Öxará', "simulated-mirror")
    assert (plan.lens.focal_mm, plan.lens.widest.label, plan.lens.narrowest.label) == (70.5, "f/4", "f/32")
    assert (plan.base.time.label, plan.base.aperture.label, plan.base.iso.label) == ("1/4", "f/11", "200")
    assert plan.rungs.start is not None
    assert plan.rungs.to is not None
    assert (plan.rungs.start.label, plan.rungs.to.label) == ("1/60", "2:00")
    assert [(one.name, one.stops, one.measured) for one in plan.filters] == [
        ('Calder "6"', 6.0, False),
        ("Ten", 10.0, False),
    ]
    assert plan.place.spot == answers.spot


def test_a_filter_is_written_in_the_way_its_strength_was_said() -> None:
    said = ("ND1000", "d0.9", "6.6 stops", "polariser")
    filters = [NewFilter(name=text, strength=read_strength(text)) for text in said]
    plan = plan_from_text(new_plan(Answers(filters=filters)))
    assert [(one.factor, one.density, one.stops, one.kind) for one in plan.filter] == [
        (1000, None, None, "nd"),
        (None, 0.9, None, "nd"),
        (None, None, 6.6, "nd"),
        (None, None, 1.5, "always on"),
    ]


def test_without_answers_it_is_a_plan_whose_other_keys_are_as_if_left_out() -> None:
    """Every example stands behind a #, so it does not count; the place on the earth is one."""
    plan = plan_from_text(new_plan(Answers()))
    assert plan.place.spot is None
    assert plan.filters == ()
    assert plan.limits == type(plan.limits)()
    assert plan.readings == type(plan.readings)()
    assert plan.costs == type(plan.costs)()


@pytest.mark.parametrize(
    "wrong",
    [
        Answers(base_time="soon"),
        Answers(widest="f/22", narrowest="f/2.8"),
        Answers(filters=(NewFilter(name="", strength=read_strength("6 stops")),)),
        Answers(title=""),
    ],
)
def test_what_makes_no_plan_is_told(wrong: Answers) -> None:
    with pytest.raises(PlanError):
        new_plan(wrong)
