"""The job of a run: kept whole, its clock the same in every process of a boot, and what can't be read told."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.plan.plans import BASE, HEAD
from tether.body.connection import SIMULATED, Connection
from tether.body.simulated.world import World
from tether.clock import AffineClock, boot_id
from tether.errors import PlanError
from tether.outing.job import JOB_NAME, Job, read_job, ready_of, write_job
from tether.plan.learned import Figure, Learned

CLOCK = AffineClock(pace=60.0, origin_real_ns=1, origin_ns=2)


def job(**changes: object) -> Job:
    usual = {
        "plan_name": "weir.toml",
        "plan_text": HEAD + BASE + '[rungs]\ntimes = ["1/125"]\n',
        "ladder": 2,
        "after_seq": 7,
        "pace": 60.0,
        "clock": CLOCK,
        "boot": boot_id(),
        "world": World(),
        "despite": {"battery": "another is in the bag"},
    }
    return Job(**(usual | changes))


def test_a_job_is_kept_as_it_was_given(tmp_path: Path) -> None:
    write_job(tmp_path, job())
    assert read_job(tmp_path) == job()
    write_job(tmp_path, job(ladder=3))
    assert read_job(tmp_path).ladder == 3


def test_what_had_been_learned_is_kept_with_it_and_a_job_of_before_had_learned_nothing(tmp_path: Path) -> None:
    known = Learned(screwed_s=Figure(value=41.0, outings=3))
    text = BASE + '[rungs]\ntimes = ["4m"]\n[[filter]]\nname = "Calder 10"\nstops = 10\n'
    plan_text = HEAD.replace('"simulated"', '"canon-eos-r6"') + text
    write_job(tmp_path, job(plan_text=plan_text, reach=Connection(way="camera"), learned=known))
    assert ready_of(read_job(tmp_path)).plan.learned == known
    before = json.loads((tmp_path / JOB_NAME).read_text())
    del before["learned"]
    (tmp_path / JOB_NAME).write_text(json.dumps(before))
    assert ready_of(read_job(tmp_path)).ladder.learned == ()


def test_its_clock_is_the_same_in_every_process_of_a_boot_and_a_new_one_after_another() -> None:
    assert job().clock_now() == CLOCK
    after = job(boot="another boot").clock_now()
    assert after != CLOCK
    assert after.pace == 60.0


@pytest.mark.parametrize("reach", [SIMULATED, Connection(way="wire"), Connection(way="camera")])
def test_only_a_camera_is_no_simulated_body(reach: Connection) -> None:
    like = job().plan_text.replace('"simulated"', '"canon-eos-r6"')
    ready = ready_of(job(plan_text=like, reach=reach))
    assert ready.abilities.simulated == ready.ladder.simulated == (reach.way != "camera")


def test_where_there_is_no_job_or_none_that_can_be_read_it_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(PlanError, match="not an outing with a run to resume; begin one with: tether run PLAN"):
        read_job(tmp_path)
    for text in ("{", '{"version": "tether-job/1"}', job().model_dump_json().replace("job/1", "job/0")):
        (tmp_path / JOB_NAME).write_text(text)
        with pytest.raises(PlanError, match="this job cannot be read; begin a run anew"):
            read_job(tmp_path)
