"""Begin a run: the world and the camera for a plan, the journal of an outing, and what is written down first."""

from __future__ import annotations

import queue
from dataclasses import asdict
from pathlib import Path

from tether import __version__
from tether.body.local import LocalCamera
from tether.body.remote import CameraProcess
from tether.clock import AffineClock, SteppedClock
from tether.control.commands import Item
from tether.control.stream import Stream
from tether.engine.analysis_queue import Reader
from tether.engine.run_state import Run
from tether.journal.records import BodyFileUsed, CameraSeen, Noted, RunStarted
from tether.journal.store import JOURNAL_NAME, Journal
from tether.journal.telling import tell
from tether.outing.folder import Folder
from tether.outing.prepare import Prepared

#: Real seconds that must be left to a camera process that does not answer, whatever the pace.
REAL_PATIENCE_S = 20.0
#: How long the engine waits for word of an exposure that should be over, on the run's clock [s].
PATIENCE_S = 60.0


def open_journal(outing: Path) -> Journal:
    """Open the journal of an outing, or begin it where there is none."""
    return Journal.open(outing) if (outing / JOURNAL_NAME).exists() else Journal.create(outing)


def make_run(
    ready: Prepared,
    *,
    ladder_number: int,
    camera: LocalCamera | CameraProcess,
    clock: AffineClock | SteppedClock,
    box: queue.SimpleQueue[Item],
    journal: Journal,
    folder: Folder,
    stream: Stream,
    pace: float | str,
    answer_for_me: bool,
) -> Run:
    """Put a run together; nothing is written down."""
    return Run(
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
        stream=stream,
        answer_for_me=answer_for_me,
        patience_s=max(PATIENCE_S, REAL_PATIENCE_S * (1.0 if isinstance(pace, str) else pace)),
        left=camera.left,
        reader=Reader(apart=not isinstance(clock, SteppedClock), words=folder.reader_words),
    )


def record_beginning(run: Run, ready: Prepared, pace: float | str) -> None:
    """Write down that a run begins, on what, and the cautions that apply."""
    identity = run.camera.identify()
    run.tell(
        RunStarted(
            version=__version__,
            simulated=identity.simulated,
            pace=str(pace),
            camera=CameraSeen(**asdict(identity)),
            body_file=BodyFileUsed(name=ready.body_file.name, tried=ready.body_file.tried),
        )
    )
    for caution in ready.ladder.cautions:
        run.tell(Noted(about="caution", text=caution))
