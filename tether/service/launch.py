"""Start a run that outlives whoever started it: give the job, start the guard, wait until faces can attach."""

from __future__ import annotations

import subprocess
import time
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from tether.body.connection import SIMULATED, Connection, at_port
from tether.body.driver.known import forget
from tether.body.simulated.world import World, load_world
from tether.clock import AffineClock, boot_id
from tether.control.registry import Running, running
from tether.errors import LostError, PlanError, TetherError, error_of
from tether.files.last_words import start_apart
from tether.guard import HANDED_OVER_NAME, LOG_NAME, SILENT_S
from tether.journal.ended import ladder_end, run_end, rungs_ended
from tether.journal.records import LadderEnded
from tether.journal.store import JOURNAL_NAME, open_journal, read_contents
from tether.journal.telling import tell
from tether.outing.camera import as_simulated
from tether.outing.folder import folder_of
from tether.outing.job import JOB_NAME, Job, read_job, ready_of, rehearsed_until, write_job
from tether.outing.prepare import Prepared, prepare
from tether.outing.world import world_of
from tether.plan.file import Plan

#: How long a run may take until faces can attach [real s].
STARTS_WITHIN_S = 30.0
_LOOK_S = 0.05


@dataclass(frozen=True, kw_only=True)
class StartedJob:
    """A job that was given: the outing's folder and what was prepared for it."""

    outing: Path
    ready: Prepared


def give_plan(
    plan: Plan | Path,
    *,
    pace: float,
    root: Path,
    outing: Path | None,
    world: Path | World | None = None,
    reach: Connection = SIMULATED,
    answer_for_me: bool = False,
    despite: dict[str, str] | None = None,
    fitted: tuple[str, ...] = (),
    begins: datetime | None = None,
) -> StartedJob:
    """Make the outing (or take the one given) and keep in it the job of working this plan's ladder.

    Parameters
    ----------
    plan, root, outing, world
        As :func:`tether.service.rehearsal.rehearse` has them.
    pace, reach, answer_for_me, despite, fitted
        As :class:`~tether.outing.job.Job` has them; the pace is 1 where a body is spoken to by the driver.
    begins
        When it is to begin (None: now), for the light that is simulated.

    Raises
    ------
    PlanError
        With a sentence for every mistake; nothing is made then.
    BusyError, SupplyError
        If the outing is in use, or cannot be written.
    """
    ready = prepare(plan) if reach.way == "camera" else as_simulated(prepare(plan))
    given = load_world(world) if isinstance(world, Path) else world
    folder = folder_of(outing, root, ready.plan.top.title, datetime.now().astimezone(), ready.abilities.simulated)
    with closing(open_journal(folder.path)) as journal:
        entries = journal.entries()
    clock = AffineClock.started_now(pace, rehearsed_until(reach, entries))
    job = Job(
        plan_name=ready.plan.path.name,
        plan_text=ready.plan.text,
        ladder=len(tell(entries, name="", running=False).ladders) + 1,
        after_seq=len(entries),
        pace=pace,
        clock=clock,
        boot=boot_id(),
        world=world_of(ready.plan, given, begins or clock.utc()),
        reach=reach,
        answer_for_me=answer_for_me,
        despite=despite or {},
        filters=ready.filters,
        learned=ready.plan.learned,
        fitted=fitted,
    )
    forget(folder.camera)
    write_job(folder.path, job)
    return StartedJob(outing=folder.path, ready=ready)


def give_again(
    outing: Path, *, port: str = "", model: str = "", despite: Mapping[str, str] | None = None
) -> StartedJob:
    """Keep in an outing the job of going on with its last ladder.

    Parameters
    ----------
    outing
        The outing's folder.
    port, model
        Where the camera is now (empty: where it was), and what it is where that is on a network.
    despite
        Checks that are not to stop the run, each with the reason, on top of those given before.

    Raises
    ------
    PlanError
        If there is no ladder to go on with, or nothing is left to do in it.
    """
    if not (outing / JOURNAL_NAME).exists() or not (outing / JOB_NAME).exists():
        raise PlanError(f"{outing}: this is not an outing with a run to resume; begin one with: tether run PLAN")
    job = read_job(outing)
    ready = ready_of(job)
    with closing(open_journal(outing)) as journal:
        entries = journal.entries()
    ended = ladder_end(entries, job.ladder)
    if ended is not None and ended.outcome == "done":
        done = len(rungs_ended(entries, job.ladder))
        raise PlanError(f"{outing}: the last ladder is done, all {done} rungs of it; begin another: tether run PLAN")
    changed = {
        "after_seq": len(entries),
        "clock": job.clock_now(rehearsed_until(job.reach, entries)),
        "boot": boot_id(),
        "reach": at_port(job.reach, ready.body_file, port, model),
        "despite": job.despite | dict(despite or {}),
    }
    write_job(outing, job.model_copy(update=changed))
    return StartedJob(outing=outing, ready=ready)


def start_guard(outing: Path, silent_s: float = SILENT_S) -> subprocess.Popen[bytes]:
    """Start the guard of an outing's run in a session of its own, with no ties to this terminal.

    `silent_s` is how long the run process may be silent before it counts as hanging [s].
    """
    with (outing / LOG_NAME).open("a") as log:
        return start_apart("tether.guard", str(outing.resolve()), str(silent_s), log=log)


def start(outing: Path) -> Running | None:
    """Start an outing's run and wait until faces can attach; None if its ladder was over sooner than that.

    Raises
    ------
    TetherError
        If it ended before its ladder had begun, as it said; LostError with what it left where it does not come up.
    """
    guard = start_guard(outing)
    until_s = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < until_s:
        found = next((one for one in running() if one.outing == outing.resolve()), None)
        if found:
            return found
        if guard.poll() is not None:
            if (why_not := _not_begun(outing)) is None:
                return None
            raise why_not
        time.sleep(_LOOK_S)
    raise LostError(f"The run of {outing} has not come up within {STARTS_WITHIN_S:.0f} s: {last_words(outing)}")


def _not_begun(outing: Path) -> TetherError | None:
    """Return why a run that has ended did not work on its ladder; None if it did."""
    job = read_job(outing)
    if ladder_end(read_contents(outing).entries, job.ladder, after_seq=job.after_seq):
        return None
    failed = how_it_ended(outing)
    return error_of(failed.trouble or LostError.kind, (failed.note or "").splitlines())


def how_it_ended(outing: Path) -> LadderEnded:
    """Return how an outing's job ended, from its journal: for a face that came too late to be told."""
    job = read_job(outing)
    ended = run_end(read_contents(outing).entries, job.ladder, after_seq=job.after_seq)
    if ended is not None:
        return ended
    note = f"The run of {outing} ended before it began: {last_words(outing)}"
    return LadderEnded(ladder=job.ladder, outcome="failed", note=note, trouble=LostError.kind)


def last_words(outing: Path) -> str:
    """Return what a run that gave up has left: the guard's sentence, or the last line of the log."""
    handed_over = outing / HANDED_OVER_NAME
    if handed_over.exists():
        return handed_over.read_text(encoding="utf-8").strip()
    log = outing / LOG_NAME
    lines = log.read_text(encoding="utf-8", errors="replace").splitlines() if log.exists() else []
    return lines[-1] if lines else "it left no word"
