"""The world that a plan is rehearsed in: lit for its base, through its lens, unless the world says otherwise."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from tests.plan.plans import BASE, HEAD, plan_of
from tether.body.simulated.world import Base, LensTruth, World
from tether.outing.world import world_of

RUNGS = '[rungs]\ntimes = ["1/125"]\n'
PLAN = plan_of(BASE + RUNGS)
PLACED = plan_of("[place]\nlatitude = 47.0\nlongitude = 8.0\n" + BASE + RUNGS)
DUSK = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


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


def test_from_its_ladders_beginning_on_the_light_follows_the_sun_of_the_plans_place_with_drawn_haze() -> None:
    world = world_of(PLACED, World(seed=3), DUSK)
    assert world.sun is not None
    assert (world.sun.latitude, world.sun.longitude, world.sun.base_utc) == (47.0, 8.0, DUSK)
    assert 0 < abs(world.sun.late_s) <= 300
    assert 0 < abs(world.sun.pace - 1) <= 0.1
    assert 0.03 <= world.clouds.stops <= 0.15
    assert world_of(PLACED, World(seed=3), DUSK) == world, "the same seed draws the same"
    other = world_of(PLACED, World(seed=4), DUSK)
    assert other.sun is not None
    assert (other.sun.late_s, other.sun.pace) != (world.sun.late_s, world.sun.pace)


@pytest.mark.parametrize(
    "light",
    [
        {"stops_per_minute": 0.0},
        {"stops_per_minute": 0.2},
        {"clouds": {"stops": 0.4}},
        {"light": ((0.0, 0.0), (60.0, -1.0))},
        {"sun": {"latitude": 1.0, "longitude": 2.0, "base_utc": "2026-06-01T12:00:00Z"}},
    ],
    ids=str,
)
def test_what_a_world_says_of_its_light_holds_whatever_the_plans_place_is(light: dict[str, object]) -> None:
    given = World.model_validate(light)
    found = world_of(PLACED, given, DUSK)
    assert (found.stops_per_minute, found.sun, found.clouds, found.light) == (
        given.stops_per_minute,
        given.sun,
        given.clouds,
        given.light,
    )


def test_without_a_place_or_a_ladder_the_light_stays() -> None:
    assert (world_of(PLAN, None, DUSK).sun, world_of(PLACED).sun) == (None, None)
    assert world_of(PLAN, None, DUSK).clouds == World().clouds
