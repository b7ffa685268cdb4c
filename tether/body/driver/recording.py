"""A recording of a session: the camera library's own log, data and all, and what its entries say.

It is made for the report of a trial, as JSON Lines in a file that goes with the trial's folder, and holds serial
numbers and names: what of it may be sent to others is up to who reads it (:mod:`tether.capture.trial_masks`). While a
file is fetched data are left out: pictures are nobody's business, and to write them down would take longer than to
fetch them.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from tether.body.driver.errors import LibraryError, without_codes
from tether.body.driver.exchange import DATA_LEVEL, Line
from tether.body.driver.sending import DEBUG_LEVEL, Hear, LogListener
from tether.body.driver.session import Session
from tether.files.errors import disk_sentences


@dataclass(frozen=True, kw_only=True)
class EntrySeen:
    """An entry as it read: its value (None: it has none), its choices, and whether it can be written.

    `failed` is what the library said where it could not be read; None: it could.
    """

    name: str
    value: str | int | float | None = None
    choices: tuple[str, ...] = ()
    writable: bool = False
    failed: str | None = None


@dataclass(frozen=True, kw_only=True)
class FileFetched:
    """A file that came: when, since the recording began [s], its name, and its size [bytes]."""

    at_s: float
    name: str
    size: int


@dataclass(frozen=True, kw_only=True)
class StoredSetting:
    """What the library had kept for its sessions with cameras on USB, whoever had it keep that."""

    name: str
    value: str


Record = Line | EntrySeen | FileFetched | StoredSetting


@dataclass
class _Book:
    """What is not written to the file yet, as JSON Lines."""

    began_ns: int = field(default_factory=time.monotonic_ns)
    resting: bool = False
    lines: list[str] = field(default_factory=list)

    def now_s(self) -> float:
        return (time.monotonic_ns() - self.began_ns) / 1e9

    def put(self, record: Record) -> None:
        self.lines.append(json.dumps({_NAMES[type(record)]: asdict(record)}))


class Recording:
    """A recording that goes on until it is ended.

    Parameters
    ----------
    path
        The file that it is written to, behind what is there; None: nothing is recorded.
    """

    def __init__(self, path: Path | None) -> None:
        self._path = path
        self._book = _Book()
        self._log = LogListener(_into(self._book))
        for one in stored_settings(Path.home() / ".gphoto" / "settings"):
            self._book.put(one)
        self._listen(DATA_LEVEL)

    def _listen(self, level: int) -> None:
        self._log.stop()
        self._book.resting = level != DATA_LEVEL
        if self._path:
            self._log.listen(level)

    def entries(self, session: Session) -> None:
        """Record every entry of the body as it now reads."""
        if self._path:
            for name in sorted(session.names()):
                self._book.put(_seen(session, name))
            self._write()

    @contextmanager
    def fetching(self, name: str) -> Iterator[Callable[[int], int]]:
        """Leave data out while a file is fetched; what is given is to be called with its size, and returns it."""

        def came(size: int) -> int:
            self._book.put(FileFetched(at_s=self._book.now_s(), name=name, size=size))
            return size

        self._listen(DEBUG_LEVEL)
        try:
            yield came
        finally:
            self._listen(DATA_LEVEL)
            self._write()

    def end(self) -> None:
        """Listen no more, and write what is not written yet."""
        self._log.stop()
        self._write()

    def _write(self) -> None:
        if self._path:
            lines, self._book.lines = self._book.lines, []
            with disk_sentences(self._path), self._path.open("a", encoding="utf-8") as out:
                out.writelines(f"{line}\n" for line in lines)


def stored_settings(path: Path) -> tuple[StoredSetting, ...]:
    """Return what the library keeps in its file for cameras on USB: a line each, ``ptp2=NAME=VALUE``."""
    try:
        lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return ()
    parts = (line.split("=", 2) for line in lines)
    return tuple(StoredSetting(name=one[1], value=one[2]) for one in parts if len(one) == 3 and one[0] == "ptp2")


def _into(book: _Book) -> Hear:
    """Return what takes in a line of the library's log."""

    def hear(level: int, source: bytes, text: bytes, _data: object) -> None:
        said, where = text.decode(errors="replace"), source.decode(errors="replace")
        book.put(Line(at_s=book.now_s(), level=level, source=where, text=said, resting=book.resting))

    return hear


def _seen(session: Session, name: str) -> EntrySeen:
    try:
        entry = session.read(name)
    except LibraryError as error:
        return EntrySeen(name=name, failed=without_codes(error.said) or "It can't be read.")
    return EntrySeen(name=name, value=entry.value, choices=entry.choices, writable=entry.writable)


@dataclass(frozen=True, kw_only=True)
class Recorded:
    """What a recording holds, each kind in order."""

    lines: tuple[Line, ...] = ()
    entries: tuple[EntrySeen, ...] = ()
    files: tuple[FileFetched, ...] = ()
    stored: tuple[StoredSetting, ...] = ()


def read_recording(path: Path) -> Recorded:
    """Return what a recording holds; nothing where there is none. A last line that was cut off is left out."""
    found: dict[str, list[Any]] = {name: [] for name in _NAMES.values()}
    kinds = {name: kind for kind, name in _NAMES.items()}
    if path.exists():
        for text in path.read_text(encoding="utf-8").splitlines():
            try:
                ((name, values),) = json.loads(text).items()
            except ValueError:
                break
            found[name].append(kinds[name](**values))
    entries = (replace(one, choices=tuple(one.choices)) for one in found["entry"])
    return Recorded(
        lines=tuple(found["line"]),
        entries=tuple(entries),
        files=tuple(found["file"]),
        stored=tuple(found["stored"]),
    )


_NAMES: dict[type, str] = {Line: "line", EntrySeen: "entry", FileFetched: "file", StoredSetting: "stored"}
