"""A camera in hand outside of a ladder: for commands that take a few frames and read them.

Such a command opens the camera by its reach, looks whether it stands as it should, takes frames one by one, and sets
the camera back as it was found, however it ends. The frames stay on the card too.
"""

from __future__ import annotations

import queue
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tether.body.connection import Connection
from tether.body.handle import Asking
from tether.body.protocol import (
    Camera,
    CardFile,
    Ended,
    Failed,
    Order,
    ReadBack,
    Remark,
    SceneChange,
    ShutterRecord,
)
from tether.body.simulated.world import World
from tether.checks import host as machine
from tether.checks.checks import BodySeen, see, stops_of, weighed
from tether.clock import AffineClock, Clock, SteppedClock, to_ns, to_s
from tether.control.commands import Item
from tether.errors import BusyError, CameraError, LostError, PlanError, TetherError, error_of
from tether.exposure.abilities import Abilities
from tether.exposure.agreement import rounded_to_s
from tether.files.check import check_frame
from tether.files.errors import UnreadableFileError, disk_sentences
from tether.files.exif import read_exif
from tether.files.safe import MOST_FETCHES, arriving, settle
from tether.outing.camera import as_simulated, opened_camera
from tether.outing.folder import passing_folder
from tether.outing.prepare import Prepared
from tether.shot.comparison import applied_of_exif, by_commands_s, exif_differs, other_values, wanted_of
from tether.shot.shot import Shot

#: A body may be busy so much longer than the frame took [s], and is asked again so often [s].
BUSY_S = 60.0
AGAIN_S = 0.5


class CameraClient(Asking):
    """What is done with an open camera: ask it patiently, expose, bring a file home.

    Parameters
    ----------
    camera, clock, box
        The open camera, its clock, and where its events come.

    Attributes
    ----------
    remarks
        What the camera said beside, as sentences.
    busy_for_s
        So long the body may be with a dark frame of its own: as long as the last frame took [s].
    """

    def __init__(self, camera: Camera, clock: Clock, box: queue.SimpleQueue[Item]) -> None:
        self.camera = camera
        self.clock = clock
        self.remarks: list[str] = []
        self.busy_for_s = 0.0
        self._box = box

    def _ask(self, question: str, *values: Any) -> Any:
        """Ask, and again while the body is busy."""
        until_ns = self.clock.now_ns() + to_ns(self.busy_for_s + BUSY_S)
        while True:
            try:
                return getattr(self.camera, question)(*values)
            except BusyError:
                if self.clock.now_ns() > until_ns:
                    raise
                self.clock.wait_until(self.clock.now_ns() + to_ns(AGAIN_S))

    def expose(self, order: Order) -> Ended:
        """Make one exposure and return how it went. Raises the camera's error where it was not made."""
        self.busy_for_s = order.command_s
        self.camera.begin(order)
        until_ns = self.clock.now_ns() + to_ns(2 * order.command_s + BUSY_S)
        while (item := self.clock.take(self._box, until_ns)) is not None:
            if isinstance(item, Remark) and item.text:
                self.remarks.append(item.text)
            if isinstance(item, Failed) and item.frame == order.frame:
                raise error_of(item.kind, item.sentences)
            if isinstance(item, Ended) and item.frame == order.frame:
                return item
        raise LostError("The camera did not say that the exposure was over.")

    def new_file(self) -> CardFile:
        """Return the file of the frame that was just made. Raises LostError where none comes."""
        began_ns = self.clock.now_ns()
        files = self.camera.new_files(1, self.busy_for_s + BUSY_S)
        if not files:
            raise LostError(f"No file came within {to_s(self.clock.now_ns() - began_ns):.0f} s.")
        return files[0]

    def put_back(self) -> tuple[str, ...]:
        """Set the body back as it was found; what could not be is among the remarks too."""
        failed = super().put_back()
        self.remarks += failed
        return failed


@contextmanager
def put_back_after(client: CameraClient, *, leave_set: bool = False) -> Iterator[None]:
    """Set the body back as it was found, however the block ends; an open shutter is closed first.

    Parameters
    ----------
    leave_set
        Whether it stays as it is set after a good end.
    """
    try:
        yield
    except BaseException:
        with suppress(TetherError):
            client.camera.close_now()
        with suppress(TetherError):
            client.put_back()
        raise
    if not leave_set:
        with suppress(TetherError):
            client.put_back()


@dataclass(frozen=True, kw_only=True)
class CapturedFrame:
    """One frame that was taken and is home.

    Attributes
    ----------
    path
        The raw file.
    shot
        What was asked for.
    read
        What the body read back before it exposed: exact time [s], f-number and ISO; None what it does not tell.
    differs
        What the file says otherwise than was asked, in sentences.
    open_s
        How long it gathered light [s], as far as commands, the body's own time and its known delays tell.
    opening
        The exposure as seen from our side of the cable.
    """

    path: Path
    shot: Shot
    read: ReadBack
    differs: tuple[str, ...]
    open_s: float
    opening: ShutterRecord

    @property
    def held_s(self) -> float | None:
        """Time between the open and the close command of a held frame [s]; None for a timed one."""
        return self.opening.held_s if self.shot.way == "held" else None

    @property
    def opened_ns(self) -> int:
        """When the shutter was told to open, by the session's clock."""
        return self.opening.open_called_ns

    @property
    def closed_ns(self) -> int:
        """When it was told to close; of a timed frame, when it should have been shut."""
        if self.shot.way == "held":
            return self.opening.close_called_ns
        return self.opened_ns + to_ns(self.open_s)

    @property
    def middle_ns(self) -> int:
        """The middle of the exposure."""
        return (self.opened_ns + self.closed_ns) // 2


class CaptureSession(CameraClient):
    """A camera with which a few frames are taken; see :func:`shooting`.

    Parameters
    ----------
    camera, clock, box
        As of any client.
    abilities
        What the camera can do.
    folder
        Where the frames go.
    simulated
        Whether it is no camera.
    ask
        Asks the person to do something, and returns when it is done.

    Attributes
    ----------
    seen
        What the camera said at first.
    """

    seen: BodySeen

    def __init__(
        self,
        camera: Camera,
        clock: Clock,
        box: queue.SimpleQueue[Item],
        abilities: Abilities,
        folder: Path,
        *,
        simulated: bool,
        ask: Callable[[str], None],
    ) -> None:
        super().__init__(camera, clock, box)
        self._ask_person = ask
        self._folder = folder
        self._taken = 0
        self.abilities = abilities
        self.simulated = simulated

    def require_ready(self, again: str, despite: Mapping[str, str] | None = None) -> None:
        """Refuse a camera that does not stand as frames need it.

        Parameters
        ----------
        again
            The command that begins once more.
        despite
            Checks that are not to stop it, each with the reason.

        Raises
        ------
        CameraError
            With a sentence for every stop that is left.
        """
        if stopped := stops_of(weighed(self.seen.looked, despite or {}, begun=False), again):
            raise stopped

    def set(self, shot: Shot) -> ReadBack:
        """Set the body for a frame and return what it reads back. Raises CameraError where a value was not taken."""
        read = self.apply(shot.settings)
        if wrong := other_values(shot, read):
            raise CameraError(f"The body does not take what was asked of it: {'; '.join(wrong)}.")
        return read

    def shoot(self, shot: Shot) -> CapturedFrame:
        """Set the body, believe only what it reads back, make the frame and bring it home.

        Raises
        ------
        CameraError
            A value was not taken.
        TetherError
            The frame was not made, did not come, or is no file that says what it was taken with.
        """
        read = self.set(shot)
        self._taken += 1
        order = Order(frame=self._taken, way=shot.way, command_s=shot.between_commands_s(self.abilities))
        opening = self.expose(order).opening
        commands_s = by_commands_s(shot, order, opening)
        open_s = shot.time_s if commands_s is None else commands_s
        path = self._home()
        said = applied_of_exif(read_exif(path), self.abilities)
        rounded_s = 0.0 if said.time_s is None else rounded_to_s(said.time_s, writes_fractions=False)
        found = exif_differs(said, wanted_of(shot, self.abilities, shot.time_s, commands_s), rounded_s)
        differs = tuple(one.clause for one in found)
        return CapturedFrame(path=path, shot=shot, read=read, differs=differs, open_s=open_s, opening=opening)

    def turn(self, what: str, stage: SceneChange) -> None:
        """Have the person do something at the tripod; in a simulated world it is done at once."""
        if self.simulated:
            self.stage(stage)
        else:
            self._ask_person(what)

    def _home(self) -> Path:
        file = self.new_file()
        # Bodies begin to count anew; no frame that was kept is written over.
        path = self._folder / f"{self.clock.utc().astimezone():%Y-%m-%d-%H%M%S}_{file.name}"
        temp = arriving(path)
        for attempt in range(1, MOST_FETCHES + 1):
            self.fetch(file, temp)
            try:
                settle(temp, path, expected_size=file.size, check=check_frame)
                break
            except UnreadableFileError as error:
                if attempt == MOST_FETCHES:
                    raise
                self.remarks.append(f"{error} It is copied again.")
        return path


def nobody(what: str) -> None:
    """Stand in for a person where there is none. Raises CameraError."""
    raise CameraError(f"Nobody can be asked here: {what}")


def look_for(reach: Connection, again: str) -> None:
    """Refuse a camera that can't be opened: none is there, it is not allowed, somebody has it, it is none.

    Parameters
    ----------
    again
        The command that begins once more.

    Raises
    ------
    PlanError
        If the camera library is told to have a camera that is none.
    CameraError
        With a sentence for everything else.
    """
    if reach.way != "camera":
        return
    if not_real := machine.spoilt():
        raise PlanError(f"{not_real} is set, so that the camera library has a camera that is none: unset it.")
    if stopped := stops_of(machine.connection(reach.port), again):
        raise stopped


@contextmanager
def shooting(
    reach: Connection,
    ready: Prepared,
    world: World,
    *,
    clock: AffineClock | SteppedClock | None = None,
    keep: Path | None = None,
    ask: Callable[[str], None] = nobody,
    leave_set: bool = False,
) -> Iterator[CaptureSession]:
    """Open the camera of a plan to take a few frames; it is set back as it was found, however the block ends.

    Parameters
    ----------
    reach, ready
        How the body is reached, and the plan that it is of.
    world
        The truth of a simulated body.
    clock
        None: the real one. A stepped one works with a body that is simulated in this process.
    keep
        Folder in which the frames are kept, made if need be; None: they go with the block, and stay on the card.
    ask
        Asks the person to do something at the tripod, and returns when it is done.
    leave_set
        Whether the body stays as it is set after a good end.

    Raises
    ------
    TetherError
        The camera can't be opened, or does not answer.
    """
    clock = clock or AffineClock.started_now(1.0)
    box: queue.SimpleQueue[Item] = queue.SimpleQueue()
    simulated = reach.way != "camera"
    ready = as_simulated(ready) if simulated else ready
    with ExitStack() as stack:
        place = stack.enter_context(passing_folder("frames"))
        frames = keep or place.frames
        with disk_sentences(frames):
            frames.mkdir(parents=True, exist_ok=True)
        camera = stack.enter_context(opened_camera(reach, ready, world, place, clock, box))
        session = CaptureSession(camera, clock, box, ready.abilities, frames, simulated=simulated, ask=ask)
        stack.enter_context(put_back_after(session, leave_set=leave_set))
        session.seen = see(camera, clock)
        yield session
