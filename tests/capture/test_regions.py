"""The regions that a plan gives."""

from __future__ import annotations

from tests.bench.base_search import PLAN
from tests.plan.plans import plan_of
from tether.capture.base_search import regions_of

LEFT = '[[region]]\nkind = "water"\nleft = 0.0\ntop = 0.0\nright = 0.5\nbottom = 1.0\n'


def test_a_plan_that_gives_none_leaves_them_open() -> None:
    assert regions_of(plan_of(PLAN)) is None


def test_a_later_rectangle_covers_an_earlier_one() -> None:
    over = LEFT.replace("water", "rock").replace("top = 0.0", "top = 0.5")
    found = regions_of(plan_of(PLAN + LEFT + over))
    assert found is not None
    assert (found.share("water"), found.share("rock")) == (0.25, 0.25)
    assert found.cell_mask("water")[:24, :36].all()
    assert found.cell_mask("rock")[24:, :36].all()
