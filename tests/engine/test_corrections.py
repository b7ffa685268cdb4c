"""What is made darker while nothing has told what it is made with, and what frames so far said."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.engine.readings import readings, standing
from tests.plan.plans import HEAD, a_choice, ladder_of, plan_of
from tether.engine.corrections import FrameHistory, unsure_stops
from tether.exposure.filters import Filter

BASE = '[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\n'
RUNGS = '[rungs]\ntimes = ["1/125"]\n'
BY_LABEL, MEASURED = Filter.of("Ten", stops=10), Filter.of("Six", stops=6, measured_stops=6.1)
UNSURE_BASE = "measured = false\nuncertainty_stops = {}\n"


@pytest.mark.parametrize(
    ("stack", "base", "time_s", "seen", "darker"),
    [
        ((), "", 60.0, False, 0.0),
        ((MEASURED,), "", 60.0, False, 0.0),
        ((MEASURED, BY_LABEL), "", 60.0, False, 1 / 3),
        ((BY_LABEL,), "", 60.0, True, 0.0),  # a frame through it was read
        ((BY_LABEL,), "", 0.5, False, 0.0),  # a short one is only taken again
        ((BY_LABEL,), "", 1.0, False, 1 / 3),
        ((), UNSURE_BASE.format(0.5), 60.0, False, 0.5),
        ((BY_LABEL,), UNSURE_BASE.format(0.2), 60.0, False, 1 / 3),  # the larger of both
    ],
)
def test_a_long_rung_is_darker_while_what_it_is_made_with_is_not_measured(
    stack: tuple[Filter, ...], base: str, time_s: float, seen: bool, darker: float
) -> None:
    text = BASE + base + RUNGS
    rung = replace(ladder_of(text).rungs[0], choice=a_choice(stack=stack, time_s=time_s))
    usual = plan_of(text, HEAD.replace('darker_by = "nothing"\n', ""))
    assert unsure_stops(usual, rung, seen=seen) == pytest.approx(darker)
    assert unsure_stops(plan_of(text), rung, seen=seen) == 0.0, "where the plan wants nothing darker"


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
