"""What follows from a frame: how far off it is, and whether it had better be taken again."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from tests.engine.readings import readings, rock, standing
from tests.plan.plans import BASE, plan_of
from tests.shot.frames import made
from tether.engine.judgement import FollowUp, FrameHistory, expected_stops, follow_ups, with_expected
from tether.journal.readings import StreakSaid
from tether.journal.records import Applied
from tether.plan.file import Plan

RUNGS = '[rungs]\ntimes = ["1/125"]\n'
PLAN = plan_of(BASE + RUNGS)


@pytest.mark.parametrize(
    ("asked", "open_s", "filter_stops", "stops"),
    [
        (Applied(aperture=8.0, iso=100.0), 2**-7, 0.0, 0.0),  # the base: 1/125 s, f/8, ISO 100
        (Applied(aperture=8.0, iso=100.0), 2**-1, 0.0, 6.0),
        (Applied(aperture=2**3.5, iso=200.0), 2**3, 10.0, 0.0),  # ten longer, one narrower, one of ISO, ten of glass
        (Applied(aperture=None, iso=100.0), 1.0, 0.0, None),
        (Applied(aperture=8.0, iso=None), 1.0, 0.0, None),
    ],
)
def test_a_frame_should_be_as_bright_as_its_settings_and_filters_make_it(
    asked: Applied, open_s: float, filter_stops: float, stops: float | None
) -> None:
    frame = made(1, open_s=open_s)
    frame = replace(frame, wanted=replace(frame.wanted, asked=asked), filter_stops=filter_stops)
    assert expected_stops(frame, PLAN.base) == (stops if stops is None else pytest.approx(stops))


def test_what_it_should_be_stands_beside_what_it_is() -> None:
    found = with_expected(readings(of_rock=rock(6.3)), made(1), PLAN, 6.0)
    assert found.rock is not None
    assert (found.rock.expected_stops, found.rock.off_stops) == pytest.approx((6.0, 0.3))
    assert with_expected(readings(), made(1), PLAN, 6.0) == readings()


def test_how_long_a_streak_the_water_should_draw_comes_of_the_plan() -> None:
    """2 m/s for half a second are a metre; 24 mm at 10 m draw it as 2.4 mm, and that is 400 px of 6 µm."""
    water = plan_of(BASE + RUNGS + "[water]\nspeed_m_s = 2.0\ndistance_m = 10.0\n")
    streaked = readings(streak=StreakSaid(length_px=390.0))
    found = with_expected(streaked, made(1, open_s=0.5), water, 6.0)
    assert found.streak is not None
    assert found.streak.predicted_px == pytest.approx(400, rel=0.005)
    assert with_expected(streaked, made(1), PLAN, 6.0) == streaked, "the plan says nothing of its water"


def frame(**changes: Any) -> Any:
    return SimpleNamespace(**({"kind": "rung", "filters": (), "filter_stops": 10.0, "exif_tells": True} | changes))


def told(found: Any, of: Any = None, plan: Plan = PLAN, before: FrameHistory | None = None) -> list[FollowUp]:
    return follow_ups(found, of or frame(), plan, before or FrameHistory())


@pytest.mark.parametrize(
    ("lifted", "filter_stops", "said"), [(0.05, 3.0, 1), (0.049, 10.0, 0), (0.2, 2.9, 0), (0.2, 10.0, 1)]
)
def test_light_past_a_strong_filter_is_said(lifted: float, filter_stops: float, said: int) -> None:
    found = told(readings(of_rock=rock(lifted_share=lifted)), frame(filter_stops=filter_stops))
    assert len(found) == said
    assert all(one.what == "said" and f"lifted by {lifted:.0%} of the mean level" in one.sentence for one in found)


@pytest.mark.parametrize(
    ("burnt_before", "clips", "spoken"), [(0.0, 0.001, True), (0.02, 0.03, False), (0.02, 0.031, True)]
)
def test_water_is_spoken_of_where_it_burns_more_than_ever_before(
    burnt_before: float, clips: float, spoken: bool
) -> None:
    found = told(readings(water_clips=clips), before=FrameHistory(burnt_share=burnt_before))
    assert [one.what for one in found] == (["darker"] if spoken else [])
    assert all(one.sentence == f"The water is clipped: {clips:.2%} of its pixels clip in one channel." for one in found)


def test_water_with_room_is_not_spoken_of_and_in_the_base_it_is_only_said() -> None:
    assert told(readings(water_clips=0.5, water_room_stops=0.1)) == []
    (base,) = told(readings(water_clips=0.5), frame(kind="base"))
    assert (base.what, base.sentence.endswith("A darker base is found by: tether base")) == ("said", True)


def test_a_knock_is_told_once_and_the_next_one_again() -> None:
    (first,) = told(readings(still=standing(right_px=2.0)))
    assert first.what == "again"
    assert first.sentence.startswith("The still rocks lie 2.0 px right")
    stood = FrameHistory(stood=[standing(right_px=2.0)])
    assert told(readings(still=standing(right_px=2.0)), before=stood) == []
    assert told(readings(still=standing(right_px=0.0)), before=stood) == [], "back where the base had it"
    assert len(told(readings(still=standing(right_px=4.0)), before=stood)) == 1


def test_how_far_it_may_move_and_soften_is_the_plans() -> None:
    lax = plan_of(BASE + RUNGS + "[readings]\nshift_px = 3.0\nsharpness_lost = 0.5\n")
    moved, soft = readings(still=standing(right_px=2.0)), readings(still=standing(lost=0.3))
    assert [len(told(one)) for one in (moved, soft)] == [1, 1]
    assert [len(told(one, plan=lax)) for one in (moved, soft)] == [0, 0]


def test_softness_that_was_told_is_told_again_only_where_it_has_grown() -> None:
    before = FrameHistory(lost_told=0.3)
    assert told(readings(still=standing(lost=0.44)), before=before) == [], (
        "0.15 may be lost beside the 0.30 that was told"
    )
    assert len(told(readings(still=standing(lost=0.48)), before=before)) == 1


def test_the_largest_share_that_clipped_is_remembered_but_not_of_a_test_exposure() -> None:
    history = FrameHistory()
    history.take_in(readings(water_clips=0.02), 0.15)
    history.take_in(readings(water_clips=0.01), 0.15)
    history.take_in(readings(water_clips=0.5), 0.15, proof=True)
    assert history.burnt_share == 0.02
    history.take_in(readings(water_room_stops=1.0), 0.15)
    assert history.burnt_share == 0.02


def test_a_loss_of_sharpness_is_remembered_once_it_was_told_and_where_the_picture_stood_always() -> None:
    history = FrameHistory()
    for lost in (0.10, 0.30, 0.20):
        history.take_in(readings(still=standing(lost=lost)), 0.15)
    assert history.lost_told == pytest.approx(0.30)
    assert len(history.stood) == 3
    history.take_in(readings(), 0.15)
    assert len(history.stood) == 3
