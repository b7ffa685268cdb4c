"""Rehearse a ladder: the whole run on the simulated body, at real pace, at a faster one, or as fast as it goes."""

from __future__ import annotations

import queue
from collections.abc import Callable
from contextlib import closing
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tether import __version__
from tether.body.open import BodyChoice, open_camera
from tether.body.protocol import Camera, Fitted, Identity
from tether.body.simulated.world import Base, LensTruth, World, load_world
from tether.clock import AffineClock, SteppedClock
from tether.errors import PlanError
from tether.journal.records import LadderOutcome, Noted, RunStarted
from tether.journal.store import JOURNAL_NAME, Journal
from tether.journal.telling import read_outing
from tether.plan.file import Plan
from tether.run.context import Item, Run
from tether.run.engine import Engine
from tether.run.events import Event
from tether.run.outing import Folder, new_folder, open_folder
from tether.run.prepare import Prepared, prepare

#: The pace that is as fast as it goes, on a stepped clock in one process.
MAX = "max"
#: Real seconds that must be left to a camera process that does not answer, whatever the pace.
REAL_PATIENCE_S = 20.0


@dataclass(frozen=True, kw_only=True)
class Rehearsed:
    """What came of a rehearsal: how the ladder ended, and the outing's folder."""

    outcome: LadderOutcome
    folder: Path


def world_of(plan: Plan, given: World | None = None) -> World:
    """Return the simulated world for a plan: its base exposure is right, all else as given or by default."""
    base = Base(
        time_s=plan.base.time.exact,
        aperture=plan.base.aperture.exact,
        iso=plan.base.iso.exact,
        always_on=tuple(
            Fitted(name=one.name, stops=one.nominal_stops) for one in plan.filters if one.kind == "always on"
        ),
    )
    world = given or World()
    update: dict[str, object] = {"base": base}
    if "lens" not in world.model_fields_set:
        distance_m = plan.water.distance_m if plan.water else LensTruth().distance_m
        update["lens"] = LensTruth(focal_mm=max(plan.lens.focal_mm, 6.0), distance_m=max(distance_m, 0.6))
    if plan.run.dark_frames == "by the body":
        update["dark_frame_by_body"] = True
    return world.model_copy(update=update)


@dataclass(frozen=True, kw_only=True)
class Rehearsal:
    """A rehearsal that is ready to run: everything is read and checked, nothing is written yet."""

    ready: Prepared
    world: World
    clock: AffineClock | SteppedClock
    pace: float | str
    root: Path
    outing: Path | None
    answer_for_me: bool

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
    ) -> Rehearsal:
        """Read and check all that a rehearsal needs.

        Parameters
        ----------
        plan
            The plan, or the path of its file.
        pace
            Seconds of the rehearsal in one real second, or "max" (stepped, in one process).
        root, outing
            Where the outing's folder is made; or the outing's folder itself, which this ladder is added to.
        world
            The truth that is simulated, or the path of its file; None: the default one. It is lit for the plan's base.
        answer_for_me
            Whether "your turn" is answered by itself after the time it takes; at pace "max" it always is.

        Raises
        ------
        PlanError
            With a sentence for every mistake.
        """
        ready = prepare(plan)
        if not ready.abilities.simulated:
            raise PlanError(
                f'body.file = "{ready.plan.body.file}": a rehearsal runs on a simulated body; use "simulated", or a '
                "body file of your own with simulated = true and what your body can do."
            )
        truth = load_world(world) if isinstance(world, Path) else world
        return cls(
            ready=ready,
            world=world_of(ready.plan, truth),
            clock=_clock(pace),
            pace=pace,
            root=root,
            outing=outing,
            answer_for_me=answer_for_me or pace == MAX,
        )

    def attended(self) -> Rehearsal:
        """Return the same rehearsal with nothing answered by itself, for whoever puts answers into its box."""
        return replace(self, answer_for_me=False)

    def run(
        self, emit: Callable[[Event], None] = lambda _event: None, box: queue.SimpleQueue[Item] | None = None
    ) -> Rehearsed:
        """Run the ladder on the simulated body and return what came of it.

        Parameters
        ----------
        emit
            Called with every event, in the calling thread; must return at once.
        box
            Where commands of the person are put; None: nobody steers.

        Raises
        ------
        SupplyError, PlanError, LostError
            If the outing's folder or journal cannot be written.
        """
        box = box if box is not None else queue.SimpleQueue()
        folder = self._folder()
        choice = BodyChoice(kind="simulated", abilities=self.ready.abilities, world=self.world, folder=folder.simulated)
        old = (folder.path / JOURNAL_NAME).exists()
        with closing(Journal.open(folder.path) if old else Journal.create(folder.path)) as journal:
            camera = open_camera(choice, self.clock, box)
            try:
                run = self._run(folder, journal, camera, emit, box)
                self._begin(run, camera.identify())
                return Rehearsed(outcome=Engine(run).work(), folder=folder.path)
            finally:
                camera.leave()

    def _folder(self) -> Folder:
        title = self.ready.plan.top.title
        if self.outing is not None:
            return open_folder(self.outing, title)
        return new_folder(self.root, title, self.clock.utc().astimezone(), simulated=True)

    def _run(
        self,
        folder: Folder,
        journal: Journal,
        camera: Camera,
        emit: Callable[[Event], None],
        box: queue.SimpleQueue[Item],
    ) -> Run:
        told = read_outing(folder.path)
        return Run(
            plan=self.ready.plan,
            ladder=self.ready.ladder,
            abilities=self.ready.abilities,
            camera=camera,
            clock=self.clock,
            box=box,
            journal=journal,
            folder=folder,
            ladder_number=len(told.ladders) + 1,
            next_frame=told.next_frame(),
            emit=emit,
            answer_for_me=self.answer_for_me,
            patience_s=max(60.0, REAL_PATIENCE_S * (1.0 if self.pace == MAX else float(self.pace))),
        )

    def _begin(self, run: Run, camera: Identity) -> None:
        body_file = self.ready.body_file
        run.record(
            RunStarted(
                version=__version__,
                simulated=camera.simulated,
                pace=str(self.pace),
                camera=asdict(camera),
                body_file={"name": body_file.name, "tried": body_file.tried},
            )
        )
        for caution in self.ready.ladder.cautions:
            run.record(Noted(about="caution", text=caution))
        run.stage_filters(())


def _clock(pace: float | str) -> AffineClock | SteppedClock:
    return SteppedClock(start_utc=datetime.now(UTC)) if pace == MAX else AffineClock.started_now(float(pace))


def rehearse(plan: Plan | Path, **how: Any) -> Rehearsed:
    """Run a plan's ladder on the simulated body and return what came of it; `how` as for `Rehearsal.of`."""
    return Rehearsal.of(plan, **how).run()
