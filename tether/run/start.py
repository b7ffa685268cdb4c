"""Start a run that outlives whoever started it: give the job, start the guard, wait until faces can attach."""

from __future__ import annotations

import subprocess
import sys
import time
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from tether.body.simulated.world import World, load_world
from tether.clock import AffineClock
from tether.errors import LostError, PlanError
from tether.guard import HANDED_OVER_NAME, LOG_NAME, SILENT_S
from tether.journal.records import LadderEnded, RungEnded
from tether.journal.store import JOURNAL_NAME
from tether.journal.telling import read_outing, tell
from tether.plan.file import plan_from_text
from tether.run.begin import open_journal, require_simulated, world_of
from tether.run.job import JOB_NAME, Job, boot_id, read_job, write_job
from tether.run.outing import new_folder, open_folder
from tether.run.prepare import Prepared, prepare
from tether.run.running import Running, running

#: How long a run may take until faces can attach [real s].
STARTS_WITHIN_S = 30.0
_LOOK_S = 0.05


@dataclass(frozen=True, kw_only=True)
class Given:
    """A job that was given: the outing's folder and what was prepared for it."""

    outing: Path
    ready: Prepared


def give_plan(
    plan: Path,
    *,
    pace: float,
    root: Path,
    outing: Path | None,
    world: Path | None = None,
    answer_for_me: bool = False,
) -> Given:
    """Make the outing (or take the one given) and keep in it the job of working this plan's ladder.

    Raises
    ------
    PlanError
        With a sentence for every mistake; nothing is made then.
    BusyError, SupplyError
        If the outing is in use, or cannot be written.
    """
    ready = prepare(plan)
    require_simulated(ready)
    truth: World = world_of(ready.plan, load_world(world) if world else None)
    title = ready.plan.top.title
    if outing is None:
        folder = new_folder(root, title, datetime.now().astimezone(), simulated=ready.abilities.simulated)
    else:
        folder = open_folder(outing, title)
    with closing(open_journal(folder.path)) as journal:
        entries = journal.entries()
    job = Job(
        plan_name=plan.name,
        plan_text=ready.plan.text,
        ladder=len(tell(entries, name="", running=False).ladders) + 1,
        after_seq=len(entries),
        pace=pace,
        clock=AffineClock.started_now(pace),
        boot=boot_id(),
        world=truth.model_dump(mode="json"),
        answer_for_me=answer_for_me,
    )
    write_job(folder.path, job)
    return Given(outing=folder.path, ready=ready)


def give_again(outing: Path) -> Given:
    """Keep in an outing the job of going on with its last ladder.

    Raises
    ------
    PlanError
        If there is no ladder to go on with, or nothing is left to do in it.
    """
    if not (outing / JOURNAL_NAME).exists() or not (outing / JOB_NAME).exists():
        raise PlanError(f"{outing}: this is no outing with a run to go on with; begin one with: tether run PLAN")
    job = read_job(outing)
    ready = prepare(plan_from_text(job.plan_text, Path(job.plan_name)))
    with closing(open_journal(outing)) as journal:
        entries = journal.entries()
    records = [entry.record for entry in entries]
    if any(isinstance(one, LadderEnded) and one.ladder == job.ladder and one.outcome == "done" for one in records):
        done = sum(isinstance(one, RungEnded) and one.ladder == job.ladder for one in records)
        raise PlanError(f"{outing}: the last ladder is done, all {done} rungs of it; begin another: tether run PLAN")
    again = job.model_copy(update={"after_seq": len(entries), "clock": job.clock_now(), "boot": boot_id()})
    write_job(outing, again)
    return Given(outing=outing, ready=ready)


def start_guard(outing: Path, silent_s: float = SILENT_S) -> subprocess.Popen[bytes]:
    """Start the guard of an outing's run in a session of its own, with no ties to this terminal.

    `silent_s` is how long the run process may be silent before it counts as hanging [s].
    """
    with (outing / LOG_NAME).open("a") as log:
        return subprocess.Popen(
            [sys.executable, "-m", "tether.guard", str(outing.resolve()), str(silent_s)],
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            start_new_session=True,
        )


def start(outing: Path) -> Running | None:
    """Start an outing's run and wait until faces can attach; None if it was over sooner than that.

    Raises
    ------
    LostError
        If it does not come up; with what it left in its log.
    """
    guard = start_guard(outing)
    until_s = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < until_s:
        found = next((one for one in running() if one.outing == outing.resolve()), None)
        if found:
            return found
        code = guard.poll()
        if code is not None:
            if read_outing(outing).ladders:
                return None
            raise LostError(f"The run of {outing} ended before it began: {last_words(outing)}")
        time.sleep(_LOOK_S)
    raise LostError(f"The run of {outing} has not come up within {STARTS_WITHIN_S:.0f} s: {last_words(outing)}")


def last_words(outing: Path) -> str:
    """Return what a run that gave up has left: the guard's sentence, or the last line of the log."""
    handed_over = outing / HANDED_OVER_NAME
    if handed_over.exists():
        return handed_over.read_text(encoding="utf-8").strip()
    log = outing / LOG_NAME
    lines = log.read_text(encoding="utf-8", errors="replace").splitlines() if log.exists() else []
    return lines[-1] if lines else "it left no word"
