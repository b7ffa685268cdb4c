"""Begin a run: the world and the camera for a plan, the journal of an outing, and what is written down first."""

from __future__ import annotations

import queue
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path

from tether import __version__
from tether.body.local import LocalCamera
from tether.body.open import BodyChoice, open_camera
from tether.body.protocol import Fitted
from tether.body.remote import CameraProcess
from tether.body.simulated.world import Base, LensTruth, World
from tether.clock import AffineClock, SteppedClock
from tether.errors import PlanError
from tether.journal.records import Noted, RunStarted
from tether.journal.store import JOURNAL_NAME, Journal
from tether.journal.telling import tell
from tether.plan.file import Plan
from tether.run.context import Item, Run
from tether.run.events import Event
from tether.run.outing import Folder
from tether.run.prepare import Prepared

#: Real seconds that must be left to a camera process that does not answer, whatever the pace.
REAL_PATIENCE_S = 20.0
#: How long the engine waits for word of an exposure that should be over, on the run's clock [s].
PATIENCE_S = 60.0


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


def require_simulated(ready: Prepared) -> None:
    """Refuse a body that is not simulated. Raises PlanError."""
    if not ready.abilities.simulated:
        raise PlanError(
            f'body.file = "{ready.plan.body.file}": this version has no driver for real bodies yet; use '
            '"simulated", or a body file of your own with simulated = true and what your body can do.'
        )


def open_journal(outing: Path) -> Journal:
    """Open the journal of an outing, or begin it where there is none."""
    return Journal.open(outing) if (outing / JOURNAL_NAME).exists() else Journal.create(outing)


@contextmanager
def opened_camera(
    ready: Prepared, world: World, folder: Folder, clock: AffineClock | SteppedClock, box: queue.SimpleQueue[Item]
) -> Iterator[LocalCamera | CameraProcess]:
    """Open the camera of an outing, and leave it however the block ends."""
    choice = BodyChoice(abilities=ready.abilities, world=world, folder=folder.simulated)
    camera = open_camera(choice, clock, box)
    try:
        yield camera
    finally:
        camera.leave()


def make_run(
    ready: Prepared,
    *,
    ladder_number: int,
    camera: LocalCamera | CameraProcess,
    clock: AffineClock | SteppedClock,
    box: queue.SimpleQueue[Item],
    journal: Journal,
    folder: Folder,
    emit: Callable[[Event], None],
    pace: float | str,
    answer_for_me: bool,
) -> Run:
    """Put a run together and write down that it begins, on what, and the cautions that apply."""
    run = Run(
        plan=ready.plan,
        ladder=ready.ladder,
        abilities=ready.abilities,
        camera=camera,
        clock=clock,
        box=box,
        journal=journal,
        folder=folder,
        ladder_number=ladder_number,
        next_frame=tell(journal.entries(), name="", running=False).next_frame(),
        emit=emit,
        answer_for_me=answer_for_me,
        patience_s=max(PATIENCE_S, REAL_PATIENCE_S * (1.0 if isinstance(pace, str) else pace)),
        left=camera.left,
    )
    identity = camera.identify()
    body_file = {"name": ready.body_file.name, "tried": ready.body_file.tried}
    run.record(
        RunStarted(
            version=__version__,
            simulated=identity.simulated,
            pace=str(pace),
            camera=asdict(identity),
            body_file=body_file,
        )
    )
    for caution in ready.ladder.cautions:
        run.record(Noted(about="caution", text=caution))
    return run
