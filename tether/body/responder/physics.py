"""The simulated body behind the wire: commands with the moment they arrived, frames as objects, and the record of both.

One lock guards all of it: the connection's thread commands, a second one looks for frames that have come onto the card.
A frame's file is made when it comes onto the card, never while a shutter is open, so that nothing stirs then.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from tether.body.protocol import CardFile, Settings, Stage
from tether.body.responder.codes import DNG, FOLDER, JPEG, Response
from tether.body.responder.datasets import object_info
from tether.body.responder.faults import WireFault, WireTroubles
from tether.body.responder.record import Recorder
from tether.body.responder.start import WireStart
from tether.body.simulated.body import SimulatedBody
from tether.body.simulated.faults import Dial
from tether.body.simulated.world import World
from tether.clock import AffineClock
from tether.errors import BusyError, LostError, SupplyError, TetherError
from tether.exposure.abilities import Abilities
from tether.files.preview import save_preview

T = TypeVar("T")

STORAGE = 0x0001_0001
_ROOT, _CARD = 0x1000_0000, 0x1000_0001
_FOLDERS = {_ROOT: ("DCIM", 0), _CARD: ("100SIMUL", _ROOT)}
_FRAME_BYTES = 60_000_000
_NS = 1_000_000_000
#: What frames taken on the body's own button are triggered by.
BY_HAND = "by hand"


class GoneError(Exception):
    """The body does not answer at all: the connection goes with it."""


class RefusedError(Exception):
    """An operation that is not done, and the response that says so."""

    def __init__(self, code: Response) -> None:
        super().__init__(code.name)
        self.code = code


@dataclass(frozen=True, kw_only=True)
class Stored:
    """One file on the card: its handle, its frame's number, its name, its format, when it was opened, its bytes."""

    handle: int
    number: int
    name: str
    kind: int
    data: bytes

    def info(self) -> bytes:
        """Return its ObjectInfo dataset."""
        return object_info(
            storage=STORAGE, kind=self.kind, size=len(self.data), parent=_CARD, folder=False, name=self.name
        )


class Physics:
    """See the module.

    Parameters
    ----------
    start
        What the camera is.
    clock
        The real clock.
    """

    def __init__(self, start: WireStart, clock: AffineClock) -> None:
        self.start = start
        self.troubles = WireTroubles((*start.faults, *_cut_short(start)))
        self.lock = threading.RLock()
        self.record = Recorder(start.choice.folder)
        self.two_files = start.two_files
        self.news: list[tuple[int, Stored]] = []
        self.drop_at_ns: int | None = None
        self.away_until_ns = 0
        self._abilities: Abilities = start.choice.abilities
        self._clock = clock
        self._folder = start.choice.folder
        self._world = _world(start)
        self._body = SimulatedBody(self._abilities, self._world, self._folder, clock)
        self._stored: dict[int, Stored] = {}
        self._known: set[str] = set()
        self._held_from_ns: int | None = None
        self.made = 0
        self._busy_until_ns = 0
        self._look(announce=False)

    # What it offers and what is in force

    @property
    def seed(self) -> int:
        """The seed of its world, which tells one such camera from another."""
        return self._world.seed

    @property
    def lens(self) -> str:
        """What the lens is called."""
        return self._answered(self._body.identify).lens

    @property
    def dark_frame(self) -> bool:
        """Whether the body takes a dark frame after a long exposure."""
        return self._world.dark_frame_by_body

    @property
    def abilities(self) -> Abilities:
        return self._abilities

    def settings(self) -> Settings:
        """Return what the body shows as set."""
        return self._answered(self._body.read_back).settings

    def offers_bulb(self) -> bool:
        """Say whether bulb is among its times as its dial stands."""
        return bool(self._abilities.can_hold) and self.start.mode == "M"

    def turn(self, dial: Dial, label: str, at_ns: int) -> bool:
        """Set one value; False where it was kept and the old one is to be told. Raises RefusedError."""
        with self.lock:
            self._require_idle()
            if label == "bulb" and not self.offers_bulb():
                raise RefusedError(Response.INVALID_VALUE)
            if self.troubles.strikes("keeps and tells", self.made + 1):
                return False
            self._done(lambda: self._body.turn(dial, label), refused=Response.INVALID_VALUE)
            self.record.add("set", at_ns=at_ns, dial=dial, label=label)
            return True

    def battery(self) -> int:
        """Return the charge in percent."""
        return round(100 * (self._answered(self._body.status).battery or 0.0))

    def frames_left(self) -> int:
        """Return how many frames the card still holds."""
        return self._answered(self._body.status).card_frames_left or 0

    # Exposing

    @property
    def held_open(self) -> bool:
        """Whether a shutter is held open."""
        return self._held_from_ns is not None

    def held_s(self) -> float | None:
        """Return how long the shutter has been held open by now [s]; None where it is not."""
        return None if self._held_from_ns is None else (time.monotonic_ns() - self._held_from_ns) / _NS

    def busy(self) -> bool:
        """Whether a frame is being exposed or worked on, or the body is busy otherwise."""
        with self.lock:
            if self.held_open or time.monotonic_ns() < self._busy_until_ns:
                return True
            return self._answered(self._body.status).busy

    def expose(self, at_ns: int, by: str = "command") -> None:
        """Begin a frame: a timed one, or on bulb one that is held until :meth:`close`. Raises RefusedError."""
        with self.lock:
            self._require_idle()
            settings = self.settings()
            held = settings.time == "bulb"
            act = self._body.open_shutter if held else self._body.trigger
            self._done(lambda: act(self._moment(at_ns)), refused=Response.GENERAL_ERROR)
            self.made += 1
            if held:
                self._held_from_ns = at_ns
            self.record.add("opened", at_ns=at_ns, frame=self.made, held=held, by=by, **_labels(settings))
            if fault := self.troubles.strikes("drops", self.made):
                self.drop_at_ns = at_ns + round(fault.after_s * _NS)
                self.away_until_ns = self.drop_at_ns + round(fault.for_s * _NS)

    def close(self, at_ns: int) -> bool:
        """Close a held shutter; False where none is. Raises RefusedError."""
        with self.lock:
            if not self.held_open:
                return False
            if self.troubles.strikes("refuses the close", self.made):
                raise RefusedError(Response.GENERAL_ERROR)
            self._done(lambda: self._body.close_shutter(self._moment(at_ns)), refused=Response.GENERAL_ERROR)
            self._held_from_ns = None
            self.record.add("closed", at_ns=at_ns, frame=self.made)
            if fault := self.troubles.strikes("busy after", self.made):
                self._busy_until_ns = time.monotonic_ns() + round(fault.for_s * _NS)
            return True

    def _moment(self, at_ns: int) -> int:
        """Return a moment of the monotonic clock on the body's."""
        return self._clock.now_ns() - (time.monotonic_ns() - at_ns)

    def _require_idle(self) -> None:
        if self.held_open or time.monotonic_ns() < self._busy_until_ns:
            raise RefusedError(Response.BUSY)

    # The card

    def objects(self) -> list[Stored]:
        """Return every file on the card, in order of handles."""
        with self.lock:
            return [self._stored[handle] for handle in sorted(self._stored)]

    def handles_in(self, parent: int) -> list[int]:
        """Return the handles in a folder; 0 or all bits set: at the root."""
        if parent in (0, 0xFFFF_FFFF):
            return [_ROOT]
        if parent == _ROOT:
            return [_CARD]
        return [one.handle for one in self.objects()] if parent == _CARD else []

    def all_handles(self) -> list[int]:
        """Return every handle, folders first."""
        return [_ROOT, _CARD, *(one.handle for one in self.objects())]

    def info(self, handle: int) -> bytes:
        """Return the ObjectInfo dataset of a handle. Raises RefusedError."""
        if handle in _FOLDERS:
            name, parent = _FOLDERS[handle]
            return object_info(storage=STORAGE, kind=FOLDER, size=0, parent=parent, folder=True, name=name)
        return self.stored(handle).info()

    def stored(self, handle: int) -> Stored:
        """Return a file. Raises RefusedError."""
        with self.lock:
            if handle not in self._stored:
                raise RefusedError(Response.INVALID_OBJECT)
            return self._stored[handle]

    def free_bytes(self) -> int:
        """Return the room that is left on the card, at a usual size of a frame [bytes]."""
        return self.frames_left() * _FRAME_BYTES

    def look(self) -> None:
        """Look for frames that have come onto the card, and put them among the news; nothing while one is open."""
        with self.lock:
            self._look(announce=True)

    def _look(self, *, announce: bool) -> None:
        if self.held_open:
            return
        try:
            files = self._body.card_files()
        except TetherError:
            return
        for file in files:
            if file.name not in self._known:
                self._known.add(file.name)
                self._arrived(file, announce=announce)

    def _arrived(self, file: CardFile, *, announce: bool) -> None:
        now_ns = time.monotonic_ns()
        number = file.number or 0
        for stored in self._files_of(file):
            self._stored[stored.handle] = stored
            if announce and not self.troubles.strikes("event never", number):
                late = self.troubles.strikes("event late", number)
                due_ns = now_ns + (round(late.for_s * _NS) if late else 0)
                self.news += [(due_ns, stored)] * (2 if self.troubles.strikes("event twice", number) else 1)

    def _files_of(self, file: CardFile) -> Iterator[Stored]:
        path = self._folder / "wire" / file.name
        path.parent.mkdir(exist_ok=True)
        self._body.fetch(file, path)
        number = file.number or 0
        handle = 0x2000_0000 | number << 4
        yield Stored(handle=handle, number=number, name=file.name, kind=DNG, data=path.read_bytes())
        if self.two_files:
            name = f"{Path(file.name).stem}.JPG"
            yield Stored(handle=handle | 1, number=number, name=name, kind=JPEG, data=_jpeg_of(path))
        path.unlink()

    def due_news(self) -> list[Stored]:
        """Return the files that are to be told of now, and tell of them no more."""
        with self.lock:
            now_ns = time.monotonic_ns()
            due = [stored for at_ns, stored in self.news if at_ns <= now_ns]
            self.news = [(at_ns, stored) for at_ns, stored in self.news if at_ns > now_ns]
            return due

    # The person, and trouble

    def stage(self, change: Stage) -> None:
        """Change the world as the person at the tripod would."""
        with self.lock:
            self._body.stage(change)

    def gone(self) -> bool:
        """Whether the body does not answer at all now."""
        with self.lock:
            try:
                self._body.read_back()
            except (LostError, SupplyError):
                return True
            except TetherError:
                return False
            return False

    def _answered(self, ask: Callable[[], T]) -> T:
        with self.lock:
            try:
                return ask()
            except (LostError, SupplyError) as error:
                raise GoneError from error
            except TetherError as error:
                raise RefusedError(Response.BUSY) from error

    def _done(self, act: Callable[[], None], *, refused: Response) -> None:
        self._answered(self._body.read_back)
        try:
            act()
        except BusyError as error:
            raise RefusedError(Response.BUSY) from error
        except SupplyError as error:
            raise RefusedError(Response.STORE_FULL) from error
        except LostError as error:
            raise GoneError from error
        except TetherError as error:
            raise RefusedError(refused) from error


def _labels(settings: Settings) -> dict[str, str]:
    return {"time": settings.time, "aperture": settings.aperture, "iso": settings.iso}


def _jpeg_of(path: Path) -> bytes:
    """Return the frame's picture as a JPEG file."""
    into = path.with_suffix(".jpg")
    save_preview(path, into)
    data = into.read_bytes()
    into.unlink()
    return data


def _world(start: WireStart) -> World:
    """Return the world without the trouble that is the wire's here: a file is cut short on its way, not on the card."""
    world = start.choice.world or World()
    return world.model_copy(update={"faults": tuple(one for one in world.faults if one.what != "truncates")})


def _cut_short(start: WireStart) -> tuple[WireFault, ...]:
    faults = start.choice.world.faults if start.choice.world else ()
    return tuple(
        WireFault(what="cut short", at_frame=one.at_frame, times=one.times) for one in faults if one.what == "truncates"
    )
