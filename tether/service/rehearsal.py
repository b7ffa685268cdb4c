"""Rehearse a ladder: the whole run on the simulated body, at real pace, at a faster one, or as fast as it goes."""

from __future__ import annotations

import queue
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

from tether.body.connection import SIMULATED, Connection
from tether.body.simulated.world import World, load_world
from tether.clock import AffineClock, SteppedClock
from tether.control.commands import Item
from tether.control.stream import Stream
from tether.journal.records import LadderOutcome, Record
from tether.journal.store import JOURNAL_NAME, open_journal, read_contents
from tether.journal.telling import tell
from tether.outing.camera import as_simulated
from tether.outing.folder import Folder, folder_of
from tether.outing.job import rehearsed_until
from tether.outing.prepare import Prepared, prepare
from tether.outing.world import world_of
from tether.plan.file import Plan
from tether.service.setup import Work

#: The pace that is as fast as it goes, on a stepped clock in one process.
MAX = "max"


@dataclass(frozen=True, kw_only=True)
class Rehearsed:
    """What came of a rehearsal: how the ladder ended (and in what kind of trouble), and the outing's folder."""

    outcome: LadderOutcome
    folder: Path
    trouble: str | None = None


@dataclass(frozen=True, kw_only=True)
class Rehearsal:
    """A rehearsal that is ready to run: everything is read and checked, nothing is written yet.

    `ladder` is the number of a ladder of the outing that is gone on with; None: a new one. `reach` is how its body is
    reached; through the driver only at pace 1. `fitted` is what is on the lens as it begins, by name.
    """

    ready: Prepared
    world: World
    clock: AffineClock | SteppedClock
    pace: float | str
    root: Path
    outing: Path | None
    answer_for_me: bool
    ladder: int | None = None
    reach: Connection = SIMULATED
    despite: Mapping[str, str] = field(default_factory=dict)
    fitted: tuple[str, ...] = ()

    @classmethod
    def of(
        cls,
        plan: Plan | Path,
        *,
        pace: float | str = MAX,
        root: Path = Path("outings"),
        outing: Path | None = None,
        world: World | Path | None = None,
        answer_for_me: bool = True,
        reach: Connection = SIMULATED,
        despite: Mapping[str, str] | None = None,
    ) -> Rehearsal:
        """Read and check all that a rehearsal needs: what :func:`rehearse` is given, and how its body is reached.

        Raises
        ------
        PlanError
            With a sentence for every mistake.
        """
        ready = as_simulated(prepare(plan))
        truth, clock = load_world(world) if isinstance(world, Path) else world, _clock(pace, reach, outing)
        return cls(
            ready=ready,
            world=world_of(ready.plan, truth, clock.utc()),
            clock=clock,
            pace=pace,
            root=root,
            outing=outing,
            answer_for_me=answer_for_me or pace == MAX,
            reach=reach,
            despite=despite or {},
        )

    def run(
        self, show: Callable[[Record], None] = lambda _record: None, box: queue.SimpleQueue[Item] | None = None
    ) -> Rehearsed:
        """Run the ladder on the simulated body and return what came of it; `show` and errors as in :func:`rehearse`.

        `box` is where commands of the person are put; None: nobody steers.
        """
        box = box if box is not None else queue.SimpleQueue()
        folder = self._folder()
        with closing(open_journal(folder.path)) as journal:
            number = self.ladder or len(tell(journal.entries(), name="", running=False).ladders) + 1
            work = Work(
                ready=self.ready,
                ladder=number,
                reach=self.reach,
                world=self.world,
                folder=folder,
                clock=self.clock,
                box=box,
                journal=journal,
                stream=Stream(journal, self.clock, lambda entry: show(entry.record)),
                pace=self.pace,
                answer_for_me=self.answer_for_me,
                fitted=self.fitted,
            )
            again = f"tether rehearse {self.ready.plan.path}"
            with work.opened() as run:
                outcome, trouble = work.done(run, despite=self.despite, again=again)
        return Rehearsed(outcome=outcome, folder=folder.path, trouble=trouble)

    def _folder(self) -> Folder:
        today = self.clock.utc().astimezone()
        return folder_of(self.outing, self.root, self.ready.plan.top.title, today, simulated=True)


def _clock(pace: float | str, reach: Connection, outing: Path | None) -> AffineClock | SteppedClock:
    """Return a clock that begins now, but not before what an outing tells of."""
    told = read_contents(outing).entries if outing and (outing / JOURNAL_NAME).exists() else ()
    begun = AffineClock.started_now(1.0 if isinstance(pace, str) else pace, rehearsed_until(reach, told))
    return SteppedClock(start_utc=begun.utc()) if pace == MAX else begun


def rehearse(
    plan: Plan | Path,
    *,
    pace: float | str = MAX,
    root: Path = Path("outings"),
    outing: Path | None = None,
    world: World | Path | None = None,
    answer_for_me: bool = True,
    despite: Mapping[str, str] | None = None,
    show: Callable[[Record], None] = lambda _record: None,
) -> Rehearsed:
    """Run a plan's ladder on the simulated body, in this process, and return what came of it.

    Parameters
    ----------
    plan
        The plan, or the path of its file.
    pace
        Seconds of the rehearsal in one real second, or "max": as fast as it goes.
    root, outing
        The folder that a new outing's folder is made in; or the outing's folder itself, which this ladder is added to.
    world
        The truth that is simulated, or the path of its file; None: the default one. It is lit for the plan's base.
    answer_for_me
        Whether "your turn" is answered by itself after the time it takes; at pace "max" it always is.
    despite
        Checks that are not to stop the rehearsal, by name, each with the reason.
    show
        Called with every record that faces are shown, in this thread; must return at once.

    Raises
    ------
    PlanError
        With a sentence for every mistake in the plan, the body file or the world.
    SupplyError, LostError
        If the outing's folder or journal cannot be written.
    CameraError
        If a check stops it before it has begun.
    """
    rehearsal = Rehearsal.of(
        plan, pace=pace, root=root, outing=outing, world=world, answer_for_me=answer_for_me, despite=despite
    )
    return rehearsal.run(show)
