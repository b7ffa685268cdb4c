"""A job that is given: which body it may be worked on."""

from __future__ import annotations

from pathlib import Path

from tests.plan.plans import HEAD
from tether.body.driver import known
from tether.body.driver.known import KnownBody
from tether.outing.folder import open_folder
from tether.service.launch import give_again, give_plan

_PLAN = """
[base]
time = "1/125"
aperture = "f/8"
iso = 100
frames = 0
[rungs]
times = ["1/125"]
"""
BODY = KnownBody(model="Canon EOS 6D", serial="1")


def test_going_on_keeps_to_the_body_and_another_ladder_may_have_another(tmp_path: Path) -> None:
    plan, outing = tmp_path / "plan.toml", tmp_path / "outing"
    plan.write_text(HEAD + _PLAN)
    give_plan(plan, pace=1.0, root=tmp_path, outing=outing)
    camera = open_folder(outing, "").camera
    camera.mkdir(exist_ok=True)
    known.keep(camera, BODY)
    give_again(outing)
    assert known.kept(camera) == BODY
    give_plan(plan, pace=1.0, root=tmp_path, outing=outing)
    assert known.kept(camera) is None
