"""One session with a body through the camera library: entries read and written singly, events, files.

Not for two threads. Every call raises :class:`LibraryError` when the library does; the session is given up by
:meth:`Session.end` and never used again, since the library does not survive that.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, TypeVar

import gphoto2 as gp

from tether.body.driver.errors import BEGINNING, LISTENING, NOT_SUPPORTED, REFUSED, LibraryError
from tether.errors import CameraError
from tether.files.errors import disk_sentences

T = TypeVar("T")

#: Releases of the binding that crash on a widget without a current value.
_CRASHING = ("2.6.4",)
_LISTS = (gp.GP_WIDGET_RADIO, gp.GP_WIDGET_MENU)

EventKind = Literal["nothing", "file", "complete", "text", "other"]
_KINDS: dict[int, EventKind] = {
    gp.GP_EVENT_TIMEOUT: "nothing",
    gp.GP_EVENT_FILE_ADDED: "file",
    gp.GP_EVENT_CAPTURE_COMPLETE: "complete",
    gp.GP_EVENT_UNKNOWN: "text",
}


@dataclass(frozen=True, kw_only=True)
class ConfigEntry:
    """One entry as it now reads: its value (None: it has none), its choices, and whether it can be written."""

    name: str = ""
    value: str | int | float | None
    choices: tuple[str, ...]
    writable: bool

    @property
    def text(self) -> str:
        """The value as a text; empty where there is none."""
        return "" if self.value is None else str(self.value)


@dataclass(frozen=True, kw_only=True)
class LibraryEvent:
    """One event: a file that is there (`folder`, `name`), an exposure that is complete, or a text of the body's own."""

    kind: EventKind
    folder: str = ""
    name: str = ""
    text: str = ""


@dataclass(frozen=True, kw_only=True)
class Store:
    """One card as it now is: whether it can't be written to, and its free room [bytes] (None: not known)."""

    read_only: bool
    free_bytes: int | None


def library_version() -> str:
    """Return the versions of the camera library and its binding, for logs and reports."""
    return f"libgphoto2 {gp.gp_library_version(gp.GP_VERSION_SHORT)[0]}, python-gphoto2 {gp.__version__}"


class Session:
    """A session with the body at a port.

    Parameters
    ----------
    port, model
        As in :class:`~tether.body.driver.profile.Link`.

    Raises
    ------
    LibraryError
        The body can't be reached.
    CameraError
        The binding that is installed is one that crashes.
    """

    has_listed = False

    def __init__(self, port: str, model: str) -> None:
        if gp.__version__ in _CRASHING:
            raise CameraError(f"python-gphoto2 {gp.__version__} crashes on some lenses: install another release.")
        self._said: list[str] = []
        self._context = gp.Context()
        self._keep = self._context.set_error_func(self._heard, None)
        self._camera = gp.Camera()
        self._names: frozenset[str] | None = None
        if model:
            self._camera.set_abilities(self._do("find the model", _abilities, model))
        if port:
            self._ports = _ports()  # what it tells of a port lives no longer than itself
            self._camera.set_port_info(self._do("find the port", _port_info, self._ports, port))
        self._do(BEGINNING, self._camera.init)

    def _heard(self, _context: object, text: str | bytes, _data: object) -> None:
        self._said.append(text.decode(errors="replace") if isinstance(text, bytes) else text)

    def _do(self, doing: str, act: Callable[..., T], *args: Any) -> T:
        self._said.clear()
        try:
            return act(*args, self._context)
        except gp.GPhoto2Error as error:
            said = " ".join(" ".join(self._said).split())
            raise LibraryError(error.code, doing, said) from error

    def end(self) -> None:
        """End the session politely, whatever the body says to it."""
        with contextlib.suppress(LibraryError):
            self._do("end the session", self._camera.exit)
        _mend_descriptor_zero()

    @property
    def model(self) -> str:
        """The library's name for the body."""
        return str(self._camera.get_abilities().model)

    # Entries

    def names(self) -> frozenset[str]:
        """Return the names of all entries that the library lists; one may still fail when it is read."""
        if self._names is None:
            listed = self._do("list its settings", self._camera.list_config)
            self._names = frozenset(listed.get_name(place) for place in range(len(listed)))
        return self._names

    def first_of(self, names: tuple[str, ...]) -> ConfigEntry | None:
        """Return the first of these entries that can be read, as it reads; None where there is none.

        Raises LibraryError where that can't be told now: the body is busy or gone, which is no entry missing.
        """
        for name in names:
            if name in self.names():
                try:
                    return self.read(name)
                except LibraryError as error:
                    if error.code not in REFUSED:
                        raise
        return None

    def read(self, name: str) -> ConfigEntry:
        """Return an entry as it now reads."""
        widget = self._do(f"tell its {name}", self._camera.get_single_config, name)
        if widget is None:  # what it lists and then has not, without saying so
            raise LibraryError(NOT_SUPPORTED, f"tell its {name}", "")
        choices: tuple[str, ...] = ()
        if widget.get_type() in _LISTS:
            choices = tuple(widget.get_choice(place) for place in range(widget.count_choices()))
        return ConfigEntry(name=name, value=widget.get_value(), choices=choices, writable=not widget.get_readonly())

    def told(self, names: tuple[str, ...]) -> str:
        """Return what the first of these entries that can be read says; empty where there is none."""
        first = self.first_of(names)
        return first.text if first else ""

    def prepared(self, name: str, value: str | int, doing: str) -> Callable[[], None]:
        """Return a write to an entry that is made ready now and costs one command when it is called."""
        widget = self._do(doing, self._camera.get_single_config, name)
        try:
            widget.set_value(value)
        except gp.GPhoto2Error as error:
            raise LibraryError(error.code, doing, f"{value} can't be written.") from error

        def write() -> None:
            self._do(doing, self._camera.set_single_config, name, widget)

        return write

    def write(self, name: str, value: str | int, doing: str) -> None:
        """Write a value to an entry; `doing` says in words what for."""
        self.prepared(name, value, doing)()

    # Exposing and events

    def trigger(self) -> None:
        """Trigger one timed frame."""
        self._do("take a frame", self._camera.trigger_capture)

    def listen(self, slice_s: float) -> LibraryEvent:
        """Return the next event, waiting about `slice_s` for it; some bodies take longer."""
        kind, data = self._do(LISTENING, self._camera.wait_for_event, max(round(slice_s * 1000), 1))
        match _KINDS.get(kind, "other"):
            case "file":
                return LibraryEvent(kind="file", folder=data.folder, name=data.name)
            case "text":
                return LibraryEvent(kind="text", text=str(data))
            case other:
                return LibraryEvent(kind=other)

    def preview(self, into: Path) -> int:
        """Write one live picture, as JPEG, to the path `into` and return its size [bytes].

        Raises
        ------
        LibraryError
            There is none.
        TetherError
            The path can't be written.
        """
        file = gp.CameraFile()
        self._do("show a live picture", lambda context: self._camera.capture_preview(file, context))
        return _written(file, into)

    # Files

    def files(self, folder: str = "/") -> list[tuple[str, str]]:
        """Return folder and name of every file from a folder down.

        The library asks the body once in a session; later lists are that one and what events told of since.
        """
        self.has_listed = True
        found = [(folder, name) for name in self._listed(self._camera.folder_list_files, folder)]
        for name in self._listed(self._camera.folder_list_folders, folder):
            found += self.files(f"{folder.rstrip('/')}/{name}")
        return found

    def _listed(self, lists: Callable[..., Any], folder: str) -> list[str]:
        listed = self._do("list its card", lists, folder)
        return [listed.get_name(place) for place in range(len(listed))]

    def stores(self) -> list[Store] | None:
        """Return every card that is in the body; None where it does not tell."""
        try:
            return [_store(info) for info in self._do("tell of its card", self._camera.get_storageinfo)]
        except LibraryError as error:
            if error.gone:
                raise
            return None

    def size(self, folder: str, name: str) -> int:
        """Return the size of a file [bytes]."""
        info = self._do(f"tell of {name}", self._camera.file_get_info, folder, name)
        return int(info.file.size)

    def fetch(self, folder: str, name: str, into: Path) -> int:
        """Write a file's bytes to the path `into` and return how many there were.

        Raises
        ------
        LibraryError
            It can't be fetched.
        TetherError
            The path can't be written.
        """

        def get(_context: object) -> Any:  # takes a context only behind an argument that is deprecated
            return self._camera.file_get(folder, name, gp.GP_FILE_TYPE_NORMAL)

        return _written(self._do(f"hand over {name}", get), into)


def _written(file: Any, into: Path) -> int:
    """Write the library's file to a path, and return how many bytes there were."""
    data = file.get_data_and_size()  # lives no longer than `file`
    with disk_sentences(into), into.open("wb") as out:
        out.write(data)
    return len(data)


def _store(info: Any) -> Store:
    writes = info.access == gp.GP_STORAGEINFO_AC_READWRITE or not info.fields & gp.GP_STORAGEINFO_ACCESS
    free = info.fields & gp.GP_STORAGEINFO_FREESPACEKBYTES
    return Store(read_only=not writes, free_bytes=int(info.freekbytes) * 1024 if free else None)


def _abilities(model: str, context: Any) -> Any:
    known = gp.CameraAbilitiesList()
    known.load(context)
    return known.get_abilities(known.lookup_model(model))


def _ports() -> Any:
    known = gp.PortInfoList()
    known.load()
    return known


def _port_info(ports: Any, port: str, _context: object) -> Any:
    return ports.get_info(ports.lookup_path(port))


def reset_port(port: str) -> None:
    """Reset a port, so that what hangs there begins anew; the body's address may change. Raises LibraryError."""
    ports = _ports()
    try:
        one = gp.GPPort()
        one.set_info(_port_info(ports, port, None))
        one.open()
        one.reset()
        one.close()
    except gp.GPhoto2Error as error:
        raise LibraryError(error.code, "reset the port", "") from error


def cameras_found() -> list[tuple[str, str]]:
    """Return the library's name and the port of every camera that it finds; those on networks are not found."""
    found = gp.Camera.autodetect()
    return [(found.get_name(place), found.get_value(place)) for place in range(len(found))]


def model_at(port: str) -> str:
    """Return the library's name for the camera at a port, which is not opened; empty where it knows none."""
    with contextlib.suppress(gp.GPhoto2Error):
        return next((model for model, one in cameras_found() if one == port), "")
    return ""


def network_models() -> tuple[str, ...]:
    """Return the library's names for cameras that it reaches over a network."""
    known = gp.CameraAbilitiesList()
    known.load(gp.Context())
    every = (known.get_abilities(place) for place in range(known.count()))
    return tuple(one.model for one in every if one.port & gp.GP_PORT_PTPIP)


def _mend_descriptor_zero() -> None:
    """Put the null device in the place of descriptor 0, which the library closes at the end of a network session.

    Else the next socket would get that number, and be closed by the session after.
    """
    try:
        os.fstat(0)
    except OSError:
        descriptor = os.open(os.devnull, os.O_RDONLY)
        if descriptor != 0:
            os.close(descriptor)
