"""The card behind the wire: the body's frames as objects with handles, and the news of those that have come.

A frame's file is made when it comes onto the card, once, by whoever looks first; never while a shutter is open, so that
nothing stirs then. It is kept in `FOLDER/wire`, and every piece of it is read from there.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tether.body.protocol import CardFile
from tether.body.responder.codes import DNG, FOLDER, JPEG, RefusedError, Response
from tether.body.responder.datasets import object_info
from tether.body.responder.faults import WireTroubles
from tether.body.simulated.body import SimulatedBody
from tether.clock import to_ns
from tether.files.preview import save_preview

STORAGE = 0x0001_0001
CARD_FOLDER = 0x1000_0001
_ROOT = 0x1000_0000
_FOLDERS = {_ROOT: ("DCIM", 0), CARD_FOLDER: ("100SIMUL", _ROOT)}
_EVERYWHERE = 0xFFFF_FFFF


@dataclass(frozen=True, kw_only=True)
class Stored:
    """One file: its handle, its frame's number, its format, where it is kept, its size; whether it is in memory only.

    What is in memory only is on no card: it is told of, can be got by its handle, and is in no list.
    """

    handle: int
    number: int
    kind: int
    path: Path
    size: int
    in_memory: bool

    @property
    def name(self) -> str:
        """Its name on the card."""
        return self.path.name

    def info(self) -> bytes:
        """Return its ObjectInfo dataset."""
        storage, parent = (0, 0) if self.in_memory else (STORAGE, CARD_FOLDER)
        return object_info(storage=storage, kind=self.kind, size=self.size, parent=parent, folder=False, name=self.name)

    def part(self, offset: int, size: int) -> bytes:
        """Return a part of its bytes; less where it ends before."""
        with self.path.open("rb") as file:
            file.seek(offset)
            return file.read(size)


class Card:
    """See the module.

    Parameters
    ----------
    body
        Whose card it is.
    folder
        Where the files are kept; made if need be.
    troubles
        What may befall the news.
    lock
        Guards the body and all that is here.
    two_files
        Whether the next frames are a raw file and a JPEG; may be changed.
    """

    def __init__(
        self, body: SimulatedBody, folder: Path, troubles: WireTroubles, lock: threading.RLock, *, two_files: bool
    ) -> None:
        folder.mkdir(exist_ok=True)
        self.two_files = two_files
        self._body = body
        self._folder = folder
        self._troubles = troubles
        self._lock = lock
        self._looking = threading.Lock()
        self._known: set[str] = set()
        self._stored: dict[int, Stored] = {}
        self._news: list[tuple[int, Stored]] = []
        self._for_memory: set[int] = set()
        self._have(self._new())

    def keep_in_memory(self, number: int) -> None:
        """Have a frame not go onto the card when it comes."""
        self._for_memory.add(number)

    # Looking

    def look(self) -> None:
        """Look for frames that have come, and put them among the news; nothing while a shutter is open."""
        with self._looking:
            if not self._open():
                frames = self._have(self._new())
                with self._lock:
                    self._news += [news for frame in frames for news in self._news_of(frame)]

    def _have(self, files: list[CardFile]) -> list[tuple[Stored, ...]]:
        """Have the files of frames, and return them frame by frame."""
        frames = [tuple(self._made(file)) for file in files]
        with self._lock:
            self._stored.update((one.handle, one) for frame in frames for one in frame)
        return frames

    def _new(self) -> list[CardFile]:
        with self._lock:
            here = self._body.on_card()
            names = {file.name for file in here}
            if gone := self._known - names:  # with the card that was changed
                stems = {Path(name).stem for name in gone}
                self._stored = {key: one for key, one in self._stored.items() if one.path.stem not in stems}
            new = [file for file in here if file.name not in self._known]
            self._known = names
            return new

    def _made(self, file: CardFile) -> Iterator[Stored]:
        raw = self._folder / file.name
        if not raw.exists():
            self._body.develop(file, raw)
        number = file.number or 0
        handle = 0x2000_0000 | number << 4
        in_memory = number in self._for_memory
        yield _stored(handle, number, DNG, raw, in_memory)
        if self.two_files:
            jpeg = raw.with_suffix(".JPG")
            save_preview(raw, jpeg)
            yield _stored(handle | 1, number, JPEG, jpeg, in_memory)

    def _news_of(self, frame: tuple[Stored, ...]) -> list[tuple[int, Stored]]:
        """Return when each file of a frame is to be told of, as the troubles have it."""
        number = frame[0].number
        if self._troubles.strikes("event never", number):
            return []
        late = self._troubles.strikes("event late", number)
        due_ns = time.monotonic_ns() + (to_ns(late.for_s) if late else 0)
        times = 2 if self._troubles.strikes("event twice", number) else 1
        return [(due_ns, one) for one in frame * times]

    def news(self) -> list[Stored]:
        """Return the files that are to be told of now, and tell of them no more."""
        with self._lock:
            now_ns = time.monotonic_ns()
            due = [one for due_ns, one in self._news if due_ns <= now_ns]
            self._news = [(due_ns, one) for due_ns, one in self._news if due_ns > now_ns]
            return due

    # Objects

    def handles(self, parent: int) -> list[int]:
        """Return the handles of what is in a folder: all bits set is the top, 0 everywhere.

        Raises
        ------
        RefusedError
            The shutter is open.
        """
        self._require_shut()
        self.look()
        with self._lock:
            files = sorted(one.handle for one in self._stored.values() if not one.in_memory)
        inside = {_EVERYWHERE: [_ROOT], _ROOT: [CARD_FOLDER], CARD_FOLDER: files, 0: [_ROOT, CARD_FOLDER, *files]}
        return inside.get(parent, [])

    def info(self, handle: int) -> bytes:
        """Return the ObjectInfo dataset of a handle. Raises RefusedError."""
        if handle in _FOLDERS:
            name, parent = _FOLDERS[handle]
            return object_info(storage=STORAGE, kind=FOLDER, size=0, parent=parent, folder=True, name=name)
        return self.stored(handle).info()

    def stored(self, handle: int) -> Stored:
        """Return a file. Raises RefusedError: there is none, or the shutter is open."""
        self._require_shut()
        with self._lock:
            if handle not in self._stored:
                raise RefusedError(Response.INVALID_OBJECT)
            return self._stored[handle]

    def number_of(self, handle: int) -> int:
        """Return the number of the frame that a handle belongs to; 0 where there is none."""
        with self._lock:
            return self._stored[handle].number if handle in self._stored else 0

    def forget(self, handle: int) -> None:
        """Forget a file that is in memory only. Raises RefusedError: it is on the card, or there is none."""
        if not self.stored(handle).in_memory:
            raise RefusedError(Response.WRITE_PROTECTED)
        with self._lock:
            del self._stored[handle]

    def _open(self) -> bool:
        with self._lock:
            return self._body.shutter() is not None

    def _require_shut(self) -> None:
        if self._open():
            raise RefusedError(Response.BUSY)


def _stored(handle: int, number: int, kind: int, path: Path, in_memory: bool) -> Stored:
    return Stored(handle=handle, number=number, kind=kind, path=path, size=path.stat().st_size, in_memory=in_memory)
