"""The run process: one ladder of one outing, its journal, its socket, and the keeping of its camera process.

Started by the guard as ``python -m tether.service.process OUTING DESCRIPTOR``; the descriptor is the guard's pipe, to
which a byte is written every second as a sign of life. Its exit code is the run's verdict; `CRASHED` is none.
"""

from __future__ import annotations

import contextlib
import os
import queue
import signal
import sys
import threading
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from tether.body.protocol import Finding
from tether.checks import host as machine
from tether.checks.checks import stops_of, weighed
from tether.checks.host_clocks import WallClock
from tether.checks.sleep import kept_awake
from tether.clock import AffineClock, Clock, to_ns
from tether.control.commands import Command, Item
from tether.control.messages import Facts
from tether.control.registry import announce, withdraw
from tether.control.server import Server
from tether.control.stream import Stream
from tether.engine.engine import verdict
from tether.engine.run_state import Run
from tether.errors import BusyError, LostError, TetherError
from tether.files.last_words import say_last
from tether.journal.codec import Entry
from tether.journal.ended import ladder_end
from tether.journal.records import RunFailed
from tether.journal.store import open_journal
from tether.memory import keep_little
from tether.outing.folder import open_folder
from tether.outing.job import Job, read_job, ready_of, rehearsed_until
from tether.outing.known import remember_outing
from tether.outing.prepare import Prepared
from tether.service.setup import Work, cable

#: The exit code of a run process that ended by a mistake in the program: the guard starts it again.
CRASHED = 70
#: Seconds between two signs of life.
ALIVE_EVERY_S = 1.0
#: How often the camera is tried to be opened, and the pause between [s].
MOST_OPENED = 3
OPENED_AGAIN_S = 2.0


def main(outing: Path, speaks: int | None) -> int:
    """Do the outing's job and return the verdict."""
    keep_little()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    box: queue.SimpleQueue[Item] = queue.SimpleQueue()
    signal.signal(signal.SIGTERM, lambda *_: box.put(Command(verb="stop now and keep")))
    if speaks is not None:
        threading.Thread(target=_show_life, args=(speaks,), name="life", daemon=True).start()
    try:
        return _do(outing, box)
    except TetherError as error:
        say_last(f"{error}\n")
        return error.exit_code
    except Exception:
        say_last(traceback.format_exc())
        return CRASHED
    finally:
        remember_outing(outing)


def _show_life(speaks: int) -> None:
    with contextlib.suppress(OSError):
        while True:
            os.write(speaks, b".")
            time.sleep(ALIVE_EVERY_S)


def _do(outing: Path, box: queue.SimpleQueue[Item]) -> int:
    job = read_job(outing)
    ready = ready_of(job)
    with closing(open_journal(outing)) as journal:
        entries = journal.entries()
        ended = ladder_end(entries, job.ladder, after_seq=job.after_seq)
        if ended is not None:
            return verdict(ended.outcome, ended.trouble)
        clock = job.clock_now(rehearsed_until(job.reach, entries))
        with _served(outing, ready, clock, box) as show, kept_awake("a ladder is being exposed") as inhibition:
            stream = Stream(journal, clock, show)
            try:
                return _worked(
                    outing,
                    job,
                    Work(
                        ready=ready,
                        ladder=job.ladder,
                        reach=job.reach,
                        world=job.world,
                        folder=open_folder(outing, ready.plan.top.title),
                        clock=clock,
                        box=box,
                        journal=journal,
                        stream=stream,
                        pace=job.pace,
                        answer_for_me=job.answer_for_me,
                        fitted=job.fitted,
                    ),
                    machine.awake(inhibition),
                )
            except TetherError as error:
                stream.tell(RunFailed(ladder=job.ladder, text=str(error), trouble=error.kind))
                raise


@contextmanager
def _served(
    outing: Path, ready: Prepared, clock: AffineClock, box: queue.SimpleQueue[Item]
) -> Iterator[Callable[[Entry], None]]:
    """Let faces attach while the block runs; yields where what is shown goes."""
    pids = {"run process": os.getpid(), "guard": os.getppid()}
    path = announce(outing, ready.plan.top.title, pids)
    facts = Facts(outing=str(outing.resolve()), title=ready.plan.top.title, simulated=ready.abilities.simulated)
    server = Server(path, facts, clock, lambda verb: box.put(Command(verb=verb)))
    try:
        server.start()
        yield server.show
    finally:
        server.close()
        withdraw(path)


def _worked(outing: Path, job: Job, work: Work, awake: Finding) -> int:
    again = f"tether run {outing}"
    connection = weighed(cable(work.reach, work.folder), job.despite, begun=work.begun)
    if stopped := stops_of(connection, again):
        raise stopped
    with _opened(work.opened, work.clock) as run:
        others = (*connection, *machine.power(), machine.real_time(), awake, machine.wall_clock(WallClock.now()))
        return verdict(*work.done(run, others, despite=job.despite, again=again))


@contextmanager
def _opened(open_it: Callable[[], contextlib.AbstractContextManager[Run]], clock: Clock) -> Iterator[Run]:
    """Open the camera; one that is busy or lost is tried again, since an earlier process may have left it so."""
    with contextlib.ExitStack() as stack:
        for left in reversed(range(MOST_OPENED)):
            try:
                run = stack.enter_context(open_it())
                break
            except (BusyError, LostError):
                if not left:
                    raise
                clock.wait_until(clock.now_ns() + to_ns(OPENED_AGAIN_S))
        yield run


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else None))
