"""Base frames: whether they are of use, by which marks they are taken, and whether filters come off for the last."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.plan.plans import BASE, SIX, TEN, abilities_of, ladder_of, plan_of
from tether.plan.base import base_frames, base_marks, base_unkept, base_wanted

RUNGS = '[rungs]\ntimes = ["1/125"]\n'
REGION = '[[region]]\nkind = "water"\nright = 0.5\n'


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        (BASE + RUNGS, True),
        (BASE + "frames = 0\n" + RUNGS, False),
        (BASE + RUNGS + '[readings]\nregions = "none"\n', False),
        (BASE + RUNGS + '[readings]\nregions = "none"\n' + REGION, True),
    ],
)
def test_base_frames_are_of_use_where_something_reads_them(text: str, wanted: bool) -> None:
    plan = plan_of(text)
    assert base_wanted(plan) == wanted
    assert base_frames(plan, abilities_of(plan), ()).before == (2 if wanted else 0)


def test_they_are_taken_by_the_bodys_own_marks_or_not_at_all() -> None:
    plan = plan_of(BASE + RUNGS)
    abilities = abilities_of(plan)
    marks = base_marks(plan, abilities)
    assert marks is not None
    assert [one.label for one in marks] == ["1/125", "f/8", "100"]
    for lacking in ("times", "apertures", "isos"):
        without = replace(abilities, **{lacking: getattr(abilities, lacking)[:2]})
        assert base_marks(plan, without) is None
        assert base_frames(plan, without, ()).before == 0


@pytest.mark.parametrize(
    ("written", "meant", "said"),
    [
        ("iso = 100", "iso = 110", "Simulated body has no ISO 110 of its own, the nearest is ISO 100"),
        ('"f/8"', '"f/8.5"', "Simulated body has no f/8.5 of its own, the nearest is f/9"),
        ('"1/125"', '"1/110"', "Simulated body has no 1/110 s of its own, the nearest is 1/100 s"),
    ],
)
def test_a_base_that_the_body_has_no_value_for_is_said_in_the_ladder_with_the_nearest(
    written: str, meant: str, said: str
) -> None:
    plan = plan_of(BASE.replace(written, meant) + RUNGS)
    assert base_unkept(plan, abilities_of(plan)) == said
    (note,) = (one for one in ladder_of(BASE.replace(written, meant) + RUNGS).notes if said in one)
    assert note == f"The base: {said}. No base frames are taken, and rungs differ from it by what is rounded."


def test_a_base_of_the_bodys_own_values_needs_no_word() -> None:
    plan = plan_of(BASE + RUNGS)
    assert base_unkept(plan, abilities_of(plan)) is None
    assert not any("base" in one for one in ladder_of(BASE + RUNGS).notes)


@pytest.mark.parametrize(
    ("again", "times", "after", "take_off_s"),
    [
        ("", '["1/125"]', 1, 0.0),  # no filter is on at the end
        ("", '["2m"]', 1, 30.0),
        ("again = false\n", '["2m"]', 0, 0.0),
    ],
)
def test_one_more_comes_after_the_last_rung_with_the_filters_off(
    again: str, times: str, after: int, take_off_s: float
) -> None:
    frames = ladder_of(f"{BASE}{again}[rungs]\ntimes = {times}\n{SIX}{TEN}").base_frames
    assert (frames.before, frames.after, frames.take_off_s) == (2, after, take_off_s)
    assert frames.time_s == 2**-7
