"""How the body of an outing is reached, and a real one's plan rehearsed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.plan.plans import BASE, HEAD
from tether.body.connection import SIMULATED, Connection
from tether.errors import PlanError
from tether.outing.camera import as_simulated, reach_of_run, spoken_by
from tether.outing.prepare import prepare
from tether.plan.file import plan_from_text

RUNGS = '[rungs]\ntimes = ["1/125"]\n'
PLAN = HEAD + BASE + RUNGS
SIM = prepare(plan_from_text(PLAN), filters=())
REAL = prepare(plan_from_text(PLAN.replace('"simulated"', '"canon-eos-r6"')), filters=())


def test_a_plan_for_the_simulated_body_is_run_on_it_and_any_other_on_a_camera() -> None:
    assert reach_of_run(SIM) == SIMULATED
    assert reach_of_run(REAL).way == "camera"
    assert reach_of_run(REAL, port="usb:001,004").port == "usb:001,004"


def test_a_body_file_that_does_not_say_how_it_is_spoken_to_is_told() -> None:
    mute = replace(REAL, body_file=REAL.body_file.model_copy(update={"driver": None}))
    with pytest.raises(
        PlanError, match=r'body.file = "canon-eos-r6": this file does not say how the body is spoken to'
    ):
        reach_of_run(mute)


def test_on_the_wire_the_cameras_own_file_is_spoken_by_else_the_plans() -> None:
    assert spoken_by(Connection(way="wire", dialect="nikon"), SIM).name == "Simulated camera on the wire (nikon)"
    assert spoken_by(SIMULATED, REAL) is REAL.body_file
    assert spoken_by(Connection(way="camera"), REAL) is REAL.body_file


def test_a_real_bodys_plan_is_rehearsed_on_one_that_can_the_same_and_says_so() -> None:
    rehearsed = as_simulated(REAL)
    assert rehearsed.abilities.simulated
    assert rehearsed.ladder.simulated
    assert rehearsed.ladder.body_name == rehearsed.abilities.name == f"{REAL.abilities.name}, simulated"
    assert rehearsed.abilities.times == REAL.abilities.times
    assert as_simulated(SIM) is SIM
