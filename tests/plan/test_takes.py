"""How long frames take."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.plan.plans import BASE, abilities_of, plan_of
from tether.plan.takes import body_dark_s, frame_takes_s

ANY = BASE + '[rungs]\ntimes = ["1/125"]\n'


@pytest.mark.parametrize(
    ("dark_frames", "time_s", "dark_s"),
    [("by the body", 0.9, 0.0), ("by the body", 1.0, 1.0), ("by the body", 30.0, 30.0), ("at the end", 30.0, 0.0)],
)
def test_the_bodys_own_dark_frame_takes_as_long_again_from_a_second_on(
    dark_frames: str, time_s: float, dark_s: float
) -> None:
    plan = plan_of(ANY + f'[run]\ndark_frames = "{dark_frames}"\n')
    assert body_dark_s(plan, time_s) == dark_s
    abilities = replace(abilities_of(plan), fetch_s=2.0)
    assert frame_takes_s(plan, abilities, time_s) == time_s + dark_s + 2.0
    assert frame_takes_s(plan, replace(abilities, fetch_s=None), time_s) == time_s + dark_s
