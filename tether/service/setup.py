"""What a run is put together from: the camera of an outing, its engine, and what is written down first."""

from __future__ import annotations

import queue
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass

from tether import __version__
from tether.body.connection import Connection
from tether.body.driver.known import kept
from tether.body.protocol import Finding
from tether.body.simulated.world import World
from tether.checks import host as machine
from tether.checks.checks import check
from tether.clock import AffineClock, SteppedClock
from tether.control.commands import Item
from tether.control.stream import Stream
from tether.engine.analysis_queue import Reader
from tether.engine.copy_queue import Copier
from tether.engine.engine import Engine
from tether.engine.in_hand import InHand
from tether.engine.run_state import Run
from tether.journal.history import ladder_history
from tether.journal.records import BodyFileUsed, CameraSeen, LadderOutcome, Noted, RunStarted, Said
from tether.journal.store import Journal
from tether.journal.telling import tell
from tether.outing.camera import opened_camera
from tether.outing.folder import COPIER_LOG_NAME, READER_LOG_NAME, Folder
from tether.outing.prepare import Prepared

#: Real seconds that must be left to a camera process that does not answer, whatever the pace.
REAL_PATIENCE_S = 20.0
#: How long the engine waits for word of an exposure that should be over, on the run's clock [s].
PATIENCE_S = 60.0


def cable(reach: Connection, folder: Folder) -> tuple[Finding, ...]:
    """Look at the camera's cable; opening a camera that is held or forbidden would tell less."""
    return machine.connection(reach.port, known=kept(folder.camera)) if reach.way == "camera" else ()


@dataclass(frozen=True, kw_only=True)
class Work:
    """One ladder of an outing, and all that it is worked with; nothing is opened or written down yet.

    `ladder` is its number in the outing; `pace` the seconds of the run in one real second, or "max"; `fitted` what is
    on the lens as it begins, by name.
    """

    ready: Prepared
    ladder: int
    reach: Connection
    world: World
    folder: Folder
    clock: AffineClock | SteppedClock
    box: queue.SimpleQueue[Item]
    journal: Journal
    stream: Stream
    pace: float | str
    answer_for_me: bool
    fitted: tuple[str, ...] = ()

    @property
    def begun(self) -> bool:
        """Whether an earlier run has begun this ladder."""
        return ladder_history(self.journal.entries(), self.ladder) is not None

    @contextmanager
    def opened(self) -> Iterator[Run]:
        """Open the camera and put the run together; the camera is left however the block ends. Raises TetherError."""
        apart = not isinstance(self.clock, SteppedClock)
        with opened_camera(self.reach, self.ready, self.world, self.folder, self.clock, self.box) as camera:
            yield Run(
                plan=self.ready.plan,
                ladder=self.ready.ladder,
                abilities=self.ready.abilities,
                camera=camera,
                clock=self.clock,
                box=self.box,
                journal=self.journal,
                folder=self.folder,
                ladder_number=self.ladder,
                hand=InHand(next_frame=tell(self.journal.entries(), name="", running=False).next_frame),
                stream=self.stream,
                answer_for_me=self.answer_for_me,
                on_lens=self.fitted,
                patience_s=max(PATIENCE_S, REAL_PATIENCE_S * (1.0 if isinstance(self.pace, str) else self.pace)),
                left=camera.left,
                reader=Reader(apart=apart, words=self.folder.path / READER_LOG_NAME),
                copier=Copier(
                    outing=self.folder.path,
                    under=self.ready.plan.run.copy_to,
                    apart=apart,
                    words=self.folder.path / COPIER_LOG_NAME,
                ),
            )

    def done(
        self, run: Run, others: Sequence[Finding] = (), *, despite: Mapping[str, str], again: str
    ) -> tuple[LadderOutcome, str | None]:
        """Write down that a run begins, check, and work the ladder; return how it ended, and in what kind of trouble.

        Parameters
        ----------
        run
            As :meth:`opened` gives it.
        others
            What was looked at beside the camera.
        despite
            Checks that are not to stop it, each with the reason.
        again
            The command that tries it again.

        Raises
        ------
        CameraError
            If a check stops it before it has begun.
        """
        begun = self.begun
        self._record_beginning(run)
        if self.world.sun and self.reach.way != "camera" and not begun:
            run.tell(Said(about="note", text="Simulated light: it follows the sun at this place, with drawn haze."))
        check(run, self.ready, others, despite=despite, begun=begun, again=again)
        engine = Engine(run)
        return engine.work(), engine.trouble

    def _record_beginning(self, run: Run) -> None:
        """Write down that a run begins, on what, and what was said of its ladder beforehand."""
        identity, body_file = run.camera.identify(), self.ready.body_file
        run.tell(
            RunStarted(
                version=__version__,
                simulated=identity.simulated,
                pace=str(self.pace),
                camera=CameraSeen(**asdict(identity)),
                body_file=BodyFileUsed(name=body_file.name, tried=body_file.tried),
            )
        )
        for said in (*self.ready.ladder.notes, *self.ready.ladder.cautions):
            run.tell(Noted(about="caution", text=said))
        if tide := self.ready.plan.tide.told:
            run.tell(Noted(about="note", text=tide))
