"""A rehearsal made ready: its clock, who answers, in which world, and where its outing lies."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.plan.plans import BASE, HEAD
from tether.body.simulated.world import Base, World
from tether.clock import AffineClock, SteppedClock
from tether.errors import PlanError
from tether.plan.file import plan_from_text
from tether.service.rehearsal import Rehearsal

TEXT = HEAD + BASE + '[rungs]\ntimes = ["1/125"]\n'
PLAN = plan_from_text(TEXT)


@pytest.mark.parametrize(
    ("pace", "answer_for_me", "kind", "answers"),
    [
        ("max", False, SteppedClock, True),  # nobody could keep up
        ("max", True, SteppedClock, True),
        (60.0, False, AffineClock, False),
        (60.0, True, AffineClock, True),
    ],
)
def test_as_fast_as_it_goes_the_clock_is_stepped_and_turns_are_answered(
    pace: float | str, answer_for_me: bool, kind: type, answers: bool
) -> None:
    found = Rehearsal.of(PLAN, pace=pace, answer_for_me=answer_for_me)
    assert isinstance(found.clock, kind)
    assert found.answer_for_me == answers
    assert getattr(found.clock, "pace", pace) == pace


def test_a_real_bodys_plan_is_rehearsed_on_a_simulated_one() -> None:
    ready = Rehearsal.of(plan_from_text(TEXT.replace('"simulated"', '"canon-eos-r6"'))).ready
    assert ready.abilities.simulated
    assert ready.ladder.body_name.endswith(", simulated")


def test_its_world_is_lit_for_the_plan_unless_it_says_how(tmp_path: Path) -> None:
    assert Rehearsal.of(PLAN).world.base.time_s == 2**-7
    lit = World(base=Base(time_s=1.0, aperture=4.0, iso=200.0))
    assert Rehearsal.of(PLAN, world=lit).world.base.time_s == 1.0
    path = tmp_path / "world.toml"
    path.write_text("stops_per_minute = 0.25\n")
    assert Rehearsal.of(PLAN, world=path).world.stops_per_minute == 0.25


def test_mistakes_are_told_before_anything_is_written(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.write_text(TEXT.replace('"1/125"]', '"soon"]'))
    with pytest.raises(PlanError):
        Rehearsal.of(path, root=tmp_path / "outings")
    assert not (tmp_path / "outings").exists()


def test_a_new_outing_is_called_a_rehearsal_and_a_given_one_is_added_to(tmp_path: Path) -> None:
    new = Rehearsal.of(PLAN, root=tmp_path)._folder()
    assert new.path.parent == tmp_path
    assert new.path.name.endswith("_a-test-rehearsal")
    given = Rehearsal.of(PLAN, root=tmp_path, outing=tmp_path / "here")._folder()
    assert (given.path, given.name) == (tmp_path / "here", "a-test")
