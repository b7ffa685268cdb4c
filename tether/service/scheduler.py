"""Runs planned for later: which outing, and when. What is to be done, and what was, stands in the outing's journal.

The planned starts lie in a small database in the user's state folder. One waiting process, apart from every terminal,
makes each start at its moment, and ends when nothing is planned any more. Killed, it loses nothing: the next one
(``python -m tether.service.scheduler``) goes on with what is planned. After a restart of the machine something must
call it up.

The rules
---------
* A start is a moment of the wall clock (``--in`` is turned into one at once). The wall clock is looked at every second:
  set back, it delays a start by as much; set forward past a start, or woken from sleep after it, the start is missed.
* A start missed by no more than `LATEST_S` is made at once. One missed by more is not made, and the outing's
  journal says so.
* A series begins a ladder of its own in one outing every so many minutes until an end. A moment at which the ladder
  before is still under way, or whose ladder would end after the plan's leave_by, has none: the outing's journal says so
  when next it can be written, the log at once. A start that is planned for the outing anew stands instead of it.
* A start is struck off once its run is started. A waiting process killed between the two has the next one start the run
  again: better than not at all, and an outing's guard lets in one only.
* A local time that does not exist (clocks set forward) is refused; so is one that comes twice (clocks set back) while
  both are still to come. The sentence names both readings in UTC, and how to write each.
"""

from __future__ import annotations

import fcntl
import logging
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import monotonic, sleep
from typing import IO, TYPE_CHECKING, Any

from apscheduler.events import EVENT_JOB_ERROR, EVENT_JOB_MISSED, JobExecutionEvent  # type: ignore[import-untyped]
from apscheduler.executors.debug import DebugExecutor  # type: ignore[import-untyped]
from apscheduler.job import Job  # type: ignore[import-untyped]
from apscheduler.jobstores.base import JobLookupError  # type: ignore[import-untyped]
from apscheduler.jobstores.sqlalchemy import SQLAlchemyJobStore  # type: ignore[import-untyped]
from apscheduler.schedulers.base import BaseScheduler  # type: ignore[import-untyped]
from apscheduler.schedulers.blocking import BlockingScheduler  # type: ignore[import-untyped]
from apscheduler.triggers.interval import IntervalTrigger  # type: ignore[import-untyped]
from sqlalchemy import URL
from sqlalchemy.exc import DBAPIError

from tether.clock import AffineClock, boot_id
from tether.errors import BusyError, LostError, PlanError, SupplyError, TetherError
from tether.files.last_words import start_apart
from tether.files.state import state_folder
from tether.journal.guards import try_lock
from tether.journal.records import Noted
from tether.journal.store import Journal, read_contents
from tether.service.start_time import in_utc
from tether.wording import span

if TYPE_CHECKING:
    from tether.service.series import Series

STORE_NAME = "later.sqlite"
LOG_NAME = "later.log"
#: Locks: who waits (with the process id), and who is changing the planned starts just now.
WAITING_NAME = "later.waiting"
CHANGING_NAME = "later.changing"
#: A start missed by no more than this is made at once [s].
LATEST_S = 600
#: The waiting process looks this often at what is planned, and so at the wall clock [s].
_LOOK_S = 1.0
#: A new waiting process has so long to begin [s]; one that finds the lock taken tries again for so long [s].
_BEGIN_S = 30.0
_PATIENCE_S = 0.5
_POLL_S = 0.05

_log = logging.getLogger("tether.later")


@dataclass(frozen=True, kw_only=True)
class Planned:
    """A run planned for later: the outing's folder, and when its run starts (UTC).

    `every` and `until_utc` are of a series: how often a ladder begins, and the last moment at which one may.
    """

    outing: Path
    when_utc: datetime
    every: timedelta | None = None
    until_utc: datetime | None = None


# What is planned: the store.


def plan_start(outing: Path, when_utc: datetime) -> None:
    """Plan the run of an outing for a moment, instead of one that was planned for it before.

    Parameters
    ----------
    outing
        The outing's folder, with its journal in it.
    when_utc
        The moment, aware.

    Raises
    ------
    PlanError, LostError
        If the folder holds no outing or its journal cannot be read; if the store cannot.
    SupplyError
        If the state folder cannot be written.
    """
    if when_utc.tzinfo is None:
        raise ValueError("the moment of a start must be aware")
    _plan(outing, start_outing, trigger="date", run_date=when_utc.astimezone(UTC))


def plan_series(outing: Path, series: Series) -> None:
    """Plan ladders of an outing, every so often until an end, instead of what was planned for it before.

    Parameters and errors are those of :func:`plan_start`.
    """
    first, every_s = series.first.astimezone(UTC), series.every.total_seconds()
    _plan(
        outing,
        start_ladder,
        every_s,
        trigger="interval",
        seconds=round(every_s),
        start_date=first,
        end_date=series.until.astimezone(UTC),
        next_run_time=first,
        coalesce=False,  # each moment that is missed is said
    )


def _plan(outing: Path, start: Callable[..., None], *more: float, **when: Any) -> None:
    """Keep what starts an outing, and when, in the place of what was kept for it before."""
    read_contents(outing)
    name = str(outing.resolve())
    with _opened_store() as store:
        store.add_job(start, args=[name, *more], id=name, name=outing.name, replace_existing=True, **when)


def planned() -> tuple[Planned, ...]:
    """Return every planned start, the next one first; also those whose moment is past and that nobody has made yet."""
    with _opened_store() as store:
        jobs = store.get_jobs()
    return tuple(
        Planned(
            outing=Path(job.id),
            when_utc=job.next_run_time,
            every=job.trigger.interval if _is_series(job) else None,
            until_utc=job.trigger.end_date if _is_series(job) else None,
        )
        for job in jobs
    )


def _is_series(job: Job) -> bool:
    return isinstance(job.trigger, IntervalTrigger)


def cancel(outing: Path) -> None:
    """Plan the run of an outing no longer. Raises PlanError if none is planned."""
    with _opened_store() as store:
        try:
            store.remove_job(str(outing.resolve()))
        except JobLookupError as error:
            others = ", ".join(job.id for job in store.get_jobs())
            instead = f"Planned are: {others}." if others else "Nothing is planned."
            raise PlanError(f"No run is planned for {outing}. {instead}") from error


def _settings() -> dict[str, Any]:
    """Return how both schedulers are set up: the one that changes the store and the one that waits."""
    store = SQLAlchemyJobStore(url=URL.create("sqlite", database=str(state_folder() / STORE_NAME)))
    return {
        "jobstores": {"default": store},
        # In the waiting thread itself: a job leaves the store only after it was done.
        "executors": {"default": DebugExecutor()},
        "job_defaults": {"coalesce": True, "max_instances": 1, "misfire_grace_time": LATEST_S},
        "timezone": UTC,
    }


class _Idle(BaseScheduler):  # type: ignore[misc]
    """Reads and changes the store and has no loop of its own, so that nothing is ever started by looking."""

    def wakeup(self) -> None:
        pass

    def shutdown(self, wait: bool = True) -> None:
        super().shutdown(wait)


@contextmanager
def _opened_store() -> Iterator[BaseScheduler]:
    """Open the store to read or change it."""
    with _changing():
        try:
            settings = _settings()
            scheduler = _Idle(**settings)
            try:
                scheduler.start(paused=True)
                yield scheduler
            finally:
                if scheduler.running:
                    scheduler.shutdown()
                settings["jobstores"]["default"].engine.dispose()  # also where the store could not be opened
        except DBAPIError as error:
            raise LostError(
                f"The planned starts in {state_folder() / STORE_NAME} cannot be read or written ({error.orig}). Move "
                "that file away and plan them again; the outings are untouched."
            ) from error


@contextmanager
def _changing() -> Iterator[None]:
    """Let nobody else change or make starts meanwhile, so that none is struck off that was just planned anew."""
    with (state_folder() / CHANGING_NAME).open("a") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


# Waiting, and starting.


def start_outing(outing: str) -> None:
    """Start the run of an outing, under its guard and apart from this process."""
    _there(outing)
    _detach("tether.guard", outing)


def _there(outing: str) -> Path:
    """Return an outing's folder. Raises SupplyError where it is not there."""
    folder = Path(outing)
    if not folder.is_dir():
        raise SupplyError(f"{outing}: the outing's folder is not there.")
    return folder


def start_ladder(outing: str, every_s: float) -> None:
    """Begin the next ladder of a series, where none is under way and there is time for it."""
    from tether.service.series import give_next, under_way  # it loads what makes a ladder

    folder, now = _there(outing), datetime.now(UTC)
    if under_way(folder):
        _log.warning("%s: the ladder of %s is not begun: the one before is still under way.", folder, in_utc(now))
        return
    found = give_next(folder, now, timedelta(seconds=every_s))
    for moment in found.passed:
        _note(folder, f"No ladder was begun at {in_utc(moment)}: the one before was still under way.")
    if found.why_not:
        _note(folder, f"No ladder is begun at {in_utc(now)}: {found.why_not}.")
        return
    _detach("tether.guard", outing)


def ensure_waiting() -> int | None:
    """See to it that a process waits for the planned starts.

    Returns
    -------
    int or None
        Its process id; None if there was nothing (left) to wait for.

    Raises
    ------
    LostError
        If a new one did not begin; its log says why.
    """
    pid = waiting()
    if pid is not None:
        return pid
    process = _detach("tether.service.scheduler")
    give_up_s = monotonic() + _BEGIN_S
    while (pid := waiting()) is None:
        if process.poll() in (0, BusyError.exit_code):  # all is done, or another was quicker
            return waiting()
        if process.poll() is not None or monotonic() > give_up_s:
            raise LostError(
                "The process that waits for planned starts did not begin; the starts stay planned, but nothing will "
                f"make them. What it said is in {state_folder() / LOG_NAME}."
            )
        sleep(_POLL_S)
    return pid


def waiting() -> int | None:
    """Return the id of the process that waits for the planned starts, or None."""
    with (state_folder() / WAITING_NAME).open("a+") as file:
        return None if try_lock(file, fcntl.LOCK_SH) else _holder(file)


def _holder(file: IO[str]) -> int | None:
    file.seek(0)
    text = file.read().strip()
    return int(text) if text else None


@contextmanager
def _only_waiter() -> Iterator[None]:
    """Be the one that waits. Raises BusyError, naming the process that does already."""
    with (state_folder() / WAITING_NAME).open("a+") as file:
        give_up_s = monotonic() + _PATIENCE_S  # somebody may just be looking whether it is taken
        while not try_lock(file, fcntl.LOCK_EX):
            if monotonic() > give_up_s:
                raise BusyError(f"Process {_holder(file)} waits for the planned starts already; one is enough.")
            sleep(_POLL_S)
        file.truncate(0)
        file.write(f"{os.getpid()}\n")
        file.flush()
        yield


def _detach(module: str, *words: str) -> subprocess.Popen[bytes]:
    """Start a process that has no part in our terminal, session, folder and end; what it says goes to the log."""
    with (state_folder() / LOG_NAME).open("ab") as log:
        process = start_apart(module, *words, log=log, cwd="/")
    # Waited for, so that it is not left behind as a zombie if it ends first.
    threading.Thread(target=process.wait, daemon=True).start()
    return process


class _Waiting(BlockingScheduler):  # type: ignore[misc]
    """Makes the planned starts until none is left; looks every second, so that a new one and a set clock are seen."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings)
        self.series: set[str] = set()

    def _process_jobs(self) -> float:
        with _changing():
            self.series |= {job.id for job in self.get_jobs() if _is_series(job)}
            next_s: float | None = super()._process_jobs()
            if not self.get_jobs():
                self.shutdown(wait=False)
        return _LOOK_S if next_s is None else min(next_s, _LOOK_S)

    def say_not_made(self, event: JobExecutionEvent) -> None:
        """Say in the outing's journal that its start was missed or went wrong."""
        when = in_utc(event.scheduled_run_time.astimezone(UTC))
        why = f"went wrong: {event.exception}".removesuffix(".")
        if event.code == EVENT_JOB_MISSED:
            late = span((datetime.now(UTC) - event.scheduled_run_time).total_seconds())
            why = (
                f"was missed by {late}: the machine was off or asleep, its clock was set, or nothing waited for the "
                f"start. One missed by more than {span(LATEST_S)} is not made"
            )
        of_series = event.job_id in self.series
        by_hand = (
            "Begin a ladder by hand: tether run PLAN --outing" if of_series else "Start the run by hand: tether run"
        )
        _note(Path(event.job_id), f"The start planned for {when} {why}. {by_hand} {event.job_id}")


def _note(outing: Path, text: str) -> None:
    _log.warning("%s: %s", outing, text)
    clock = AffineClock()
    try:
        with closing(Journal.open(outing)) as journal:
            journal.add(Noted(about="trouble", text=text), utc=clock.utc(), mono_ns=clock.now_ns(), boot=boot_id())
    except TetherError as error:
        _log.error("That could not be written into the outing's journal: %s", error)


def main() -> int:
    """Wait for the planned starts and make them, until none is left; return the exit code."""
    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(message)s")
    try:
        # Asked again at the end: a start that was planned while this process was ending is not left alone.
        while planned():
            with _only_waiter():
                waiter = _Waiting(**_settings())
                waiter.add_listener(waiter.say_not_made, EVENT_JOB_MISSED | EVENT_JOB_ERROR)
                waiter.start()
    except TetherError as error:
        _log.error("%s", error)
        return error.exit_code
    return 0


if __name__ == "__main__":
    sys.exit(main())
