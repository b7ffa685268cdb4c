"""What a run process is to do, kept in the outing's folder so that whoever starts it again knows it too."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from tether.body.connection import Connection
from tether.body.simulated.world import World
from tether.clock import AffineClock, boot_id
from tether.errors import PlanError
from tether.files.safe import safe_write
from tether.journal.codec import Entry
from tether.outing.camera import as_simulated
from tether.outing.prepare import Prepared, prepare
from tether.plan.file import plan_from_text
from tether.plan.learned import Learned
from tether.plan.measured import MeasuredFilter

JOB_NAME = "run.json"


class Job(BaseModel):
    """One run of one ladder.

    Attributes
    ----------
    plan_name, plan_text
        The plan, as its file was called and as it stood.
    ladder
        Number of the ladder in the outing.
    after_seq
        Last record of the journal when the job was given: an end of the ladder after it is the end of the job.
    pace, clock, boot
        The clock: how fast, its map from the monotonic one, and the boot that this belongs to.
    world
        The truth of the simulated world.
    reach
        How the body is reached.
    answer_for_me
        Whether turns are answered by themselves.
    despite
        Checks that are not to stop the run, by name, each with the person's reason.
    filters
        Filters as they had been measured then, so that the ladder stays what it was.
    learned
        What earlier outings had told then, for the same reason.
    fitted
        Filters that are on the lens as the ladder begins, by name, beside those that are always on.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    version: Literal["tether-job/1"] = "tether-job/1"
    plan_name: str
    plan_text: str
    ladder: int
    after_seq: int
    pace: float
    clock: AffineClock
    boot: str
    world: World
    reach: Connection = Connection()
    answer_for_me: bool = False
    despite: dict[str, str] = {}
    filters: tuple[MeasuredFilter, ...] = ()
    learned: Learned = Learned()
    fitted: tuple[str, ...] = ()

    def clock_now(self, since: datetime | None = None) -> AffineClock:
        """Return the job's clock: the same map in every process of a boot; in another a new one, not before `since`."""
        return self.clock if self.boot == boot_id() else AffineClock.started_now(self.pace, since)


def rehearsed_until(reach: Connection, entries: Sequence[Entry]) -> datetime | None:
    """Return the last moment that a rehearsal's journal tells of; None: there is none, or a camera's, which is real."""
    return entries[-1].utc if entries and reach.way != "camera" else None


def ready_of(job: Job) -> Prepared:
    """Make ready what a job is about, in the light to be expected by its clock. Raises PlanError."""
    plan, begins = plan_from_text(job.plan_text, Path(job.plan_name)), job.clock_now().utc()
    ready = prepare(plan, filters=job.filters, learned=job.learned, begins=begins)
    return ready if job.reach.way == "camera" else as_simulated(ready)


def write_job(outing: Path, job: Job) -> None:
    """Keep a job in the outing's folder, in the place of the one before."""
    safe_write(outing / JOB_NAME, job.model_dump_json(indent=2).encode())


def read_job(outing: Path) -> Job:
    """Return the job kept in an outing's folder. Raises PlanError where there is none that can be read."""
    path = outing / JOB_NAME
    try:
        return Job.model_validate_json(path.read_bytes())
    except OSError as error:
        none = f"{outing}: this is not an outing with a run to resume; begin one with: tether run PLAN"
        raise PlanError(none) from error
    except ValidationError as error:
        raise PlanError(f"{path}: this job cannot be read; begin a run anew with: tether run PLAN") from error
