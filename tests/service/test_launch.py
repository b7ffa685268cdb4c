"""A job that is given: which body it may be worked on, and from when on it is."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.journal.outings import run_started
from tests.plan.plans import HEAD
from tether.body.connection import SIMULATED, Connection
from tether.body.driver import known
from tether.body.driver.known import KnownBody
from tether.journal.store import Journal
from tether.outing.folder import open_folder
from tether.outing.job import read_job, write_job
from tether.service.launch import give_again, give_plan
from tether.service.rehearsal import Rehearsal

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


LATER = datetime.now(UTC) + timedelta(hours=7)
PLACE = "[place]\nlatitude = 47.0\nlongitude = 8.0\n"


@pytest.fixture
def outing(tmp_path: Path) -> Path:
    """An outing whose journal was written by a rehearsal that had run ahead of the day by seven hours."""
    folder = tmp_path / "outing"
    folder.mkdir()
    journal = Journal.create(folder)
    journal.add(run_started(), utc=LATER, mono_ns=1)
    journal.close()
    (tmp_path / "plan.toml").write_text(HEAD + PLACE + _PLAN)
    return folder


@pytest.mark.parametrize("pace", [1.0, 20.0])
def test_what_is_rehearsed_after_a_faster_rehearsal_begins_no_earlier_than_that_ended(
    outing: Path, pace: float
) -> None:
    given = give_plan(outing.parent / "plan.toml", pace=pace, root=outing.parent, outing=outing)
    job = read_job(given.outing)
    assert job.clock.utc() >= LATER
    assert job.world.sun is not None
    assert timedelta(0) <= job.world.sun.base_utc - LATER < timedelta(minutes=10), "the base is right then"
    write_job(outing, job.model_copy(update={"boot": "an earlier one"}))
    give_again(outing)
    assert read_job(outing).clock.utc() >= LATER
    for stepped in ("max", 60.0):
        assert Rehearsal.of(outing.parent / "plan.toml", pace=stepped, outing=outing).clock.utc() >= LATER


def test_with_a_camera_and_in_another_outing_it_is_the_day(outing: Path) -> None:
    plan, day = outing.parent / "plan.toml", timedelta(minutes=10)
    given = give_plan(plan, pace=1.0, root=outing.parent, outing=outing, reach=Connection(way="camera", port="usb:"))
    assert read_job(given.outing).clock.tells_the_day
    given = give_plan(plan, pace=20.0, root=outing.parent, outing=None, reach=SIMULATED)
    assert abs(read_job(given.outing).clock.utc() - datetime.now(UTC)) < day
