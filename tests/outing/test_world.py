"""The world that a plan is rehearsed in: lit for its base, through its lens, unless the world says otherwise."""

from __future__ import annotations

from tests.plan.plans import BASE, HEAD, plan_of
from tether.body.simulated.world import Base, LensTruth, World
from tether.outing.world import world_of

RUNGS = '[rungs]\ntimes = ["1/125"]\n'
PLAN = plan_of(BASE + RUNGS)


def test_it_is_lit_so_that_the_base_is_right_with_what_is_always_on() -> None:
    always = '[[filter]]\nname = "Polariser"\nstops = 1.5\nmeasured_stops = 1.7\nkind = "always on"\n'
    base = world_of(plan_of(BASE + RUNGS + always)).base
    assert (base.time_s, base.aperture, base.iso) == (2**-7, 8.0, 100.0)
    assert [(one.name, one.stops) for one in base.always_on] == [("Polariser", 1.5)]


def test_a_world_that_says_how_it_is_lit_is_left_so() -> None:
    given = World(base=Base(time_s=1.0, aperture=4.0, iso=200.0))
    assert world_of(PLAN, given).base == given.base
    assert world_of(PLAN, World()).base.time_s == 2**-7, "one that does not say it is lit for the plan"


def test_lens_and_water_are_the_plans_within_what_the_world_can_have() -> None:
    assert world_of(PLAN).lens.focal_mm == 24
    assert world_of(PLAN).lens.distance_m == LensTruth().distance_m
    near = plan_of(BASE + RUNGS + "[water]\nspeed_m_s = 1.0\ndistance_m = 0.2\n", HEAD.replace("= 24", "= 4"))
    assert (world_of(near).lens.focal_mm, world_of(near).lens.distance_m) == (6.0, 0.6)
    given = World(lens=LensTruth(focal_mm=50.0))
    assert world_of(PLAN, given).lens == given.lens


def test_a_body_that_is_to_take_its_own_dark_frames_does_so() -> None:
    own = plan_of(BASE + RUNGS + '[run]\ndark_frames = "by the body"\n')
    assert world_of(own).dark_frame_by_body
    assert world_of(PLAN).dark_frame_by_body == World().dark_frame_by_body
