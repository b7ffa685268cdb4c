"""Base frames: whether they are of use, by which marks they are taken, and whether filters come off for the last."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.plan.plans import BASE, SIX, TEN, abilities_of, ladder_of, plan_of
from tether.plan.base import base_frames, base_marks, base_wanted

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
