"""One session through the camera library, with a library that answers as told: what is read, written, heard, listed."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import gphoto2 as gp
import pytest

from tether.body.driver import session as module
from tether.body.driver.errors import BAD_PARAMETERS, BUSY, IO, NOT_SUPPORTED, LibraryError
from tether.body.driver.session import ConfigEntry, LibraryEvent, Session, Store, model_at
from tether.errors import CameraError, TetherError


class Names(list[str]):
    """A list as the library gives it."""

    def get_name(self, place: int) -> str:
        return self[place]


class Widget:
    """An entry as the library gives it."""

    def __init__(self, kind: int, value: object, *choices: str, readonly: bool = False) -> None:
        self.kind, self.value, self.choices, self.readonly = kind, value, choices, readonly

    def get_type(self) -> int:
        return self.kind

    def get_value(self) -> object:
        return self.value

    def get_readonly(self) -> bool:
        return self.readonly

    def count_choices(self) -> int:
        return len(self.choices)

    def get_choice(self, place: int) -> str:
        return self.choices[place]

    def set_value(self, value: object) -> None:
        if isinstance(value, str) is not isinstance(self.value, str):
            raise gp.GPhoto2Error(BAD_PARAMETERS)
        self.value = value


class Library:
    """A camera of the library: entries (an error's code in the place of one that can't be read), events, files."""

    def __init__(self) -> None:
        self.entries: dict[str, Widget | int | None] = {}
        self.set: list[tuple[str, object]] = []
        self.events: list[tuple[int, Any]] = []
        self.waited_ms: list[int] = []
        self.tree: dict[str, tuple[Names, Names]] = {}
        self.stores: Any = BAD_PARAMETERS
        self.data = b"frame"
        self.says: Callable[[str], None] = lambda text: None
        self.listed = 0

    def list_config(self, _context: object) -> Names:
        self.listed += 1
        return Names(self.entries)

    def get_single_config(self, name: str, _context: object) -> Widget | None:
        widget = self.entries.get(name, BAD_PARAMETERS)
        if isinstance(widget, int):
            self.says(f"could not\n  get {name}")
            raise gp.GPhoto2Error(widget)
        return widget

    def set_single_config(self, name: str, widget: Widget, _context: object) -> None:
        self.set.append((name, widget.value))

    def wait_for_event(self, for_ms: int, _context: object) -> tuple[int, Any]:
        self.waited_ms.append(for_ms)
        return self.events.pop(0)

    def folder_list_files(self, folder: str, _context: object) -> Names:
        return self.tree[folder][0]

    def folder_list_folders(self, folder: str, _context: object) -> Names:
        return self.tree[folder][1]

    def get_storageinfo(self, _context: object) -> Any:
        if isinstance(self.stores, int):
            raise gp.GPhoto2Error(self.stores)
        return self.stores

    def file_get(self, folder: str, name: str, kind: int) -> Any:
        assert kind == gp.GP_FILE_TYPE_NORMAL
        return SimpleNamespace(get_data_and_size=lambda: self.data)

    def exit(self, _context: object) -> None:
        raise gp.GPhoto2Error(IO)


@pytest.fixture
def library() -> Library:
    return Library()


@pytest.fixture
def session(library: Library) -> Session:
    """A session that was begun, on that library."""
    session = Session.__new__(Session)
    bare: Any = session
    bare._said, bare._context, bare._camera, bare._names = [], None, library, None
    library.says = lambda text: bare._heard(None, text, None)
    return session


def failed(act: Callable[[], object]) -> LibraryError:
    with pytest.raises(LibraryError) as caught:
        act()
    return caught.value


def test_a_binding_that_crashes_is_not_begun_with(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(gp, "__version__", "2.6.4")
    with pytest.raises(CameraError, match=r"2\.6\.4 crashes on some lenses: install another release"):
        Session("", "")


# Entries


def test_an_entry_is_its_value_its_choices_where_it_has_a_list_and_whether_it_can_be_written(
    session: Session, library: Library
) -> None:
    library.entries = {
        "iso": Widget(gp.GP_WIDGET_RADIO, "100", "100", "200"),
        "drive": Widget(gp.GP_WIDGET_MENU, "Single", "Single", readonly=True),
        "zoom": Widget(gp.GP_WIDGET_RANGE, 2.5, "no list"),
        "none": Widget(gp.GP_WIDGET_TEXT, None),
    }
    assert session.read("iso") == ConfigEntry(name="iso", value="100", choices=("100", "200"), writable=True)
    assert session.read("drive") == ConfigEntry(name="drive", value="Single", choices=("Single",), writable=False)
    assert session.read("zoom") == ConfigEntry(name="zoom", value=2.5, choices=(), writable=True)
    assert [session.read(name).text for name in ("zoom", "none")] == ["2.5", ""]


def test_an_entry_that_is_listed_and_then_not_there_is_refused_as_one_that_is_not(
    session: Session, library: Library
) -> None:
    """So an EOS's list has “liveviewsize”, and the library hands over nothing for it and tells of no error."""
    library.entries = {"liveviewsize": None, "iso": Widget(gp.GP_WIDGET_RADIO, "100", "100")}
    with pytest.raises(LibraryError) as raised:
        session.read("liveviewsize")
    assert raised.value.code == NOT_SUPPORTED
    assert session.first_of(("liveviewsize", "iso")) == session.read("iso")


def test_the_first_entry_that_can_be_read_is_the_one_and_its_text_what_is_told(
    session: Session, library: Library
) -> None:
    library.entries = {"shown": BAD_PARAMETERS, "second": Widget(gp.GP_WIDGET_TEXT, "this"), "third": Widget(0, "")}
    assert session.first_of(("not listed", "shown", "second", "third")) == session.read("second")
    assert session.told(("shown", "second")) == "this"
    assert session.first_of(("shown", "not listed")) is None
    assert session.told(("shown",)) == ""
    assert library.listed == 1


def test_an_entry_of_a_body_that_is_busy_is_not_taken_for_missing(session: Session, library: Library) -> None:
    library.entries = {"first": BUSY, "second": Widget(gp.GP_WIDGET_TEXT, "other")}
    assert failed(lambda: session.first_of(("first", "second"))).code == BUSY


def test_a_write_is_made_ready_and_costs_one_command_when_it_is_called(session: Session, library: Library) -> None:
    library.entries = {"iso": Widget(gp.GP_WIDGET_RADIO, "100")}
    write = session.prepared("iso", "200", "set its speed")
    assert library.set == []
    library.entries = {}
    write()
    assert library.set == [("iso", "200")]


def test_a_value_of_another_kind_can_not_be_written(session: Session, library: Library) -> None:
    library.entries = {"iso": Widget(gp.GP_WIDGET_RADIO, "100")}
    error = failed(lambda: session.write("iso", 3, "set its speed"))
    assert (error.code, error.doing, error.said) == (BAD_PARAMETERS, "set its speed", "3 can't be written.")


def test_an_error_has_what_the_library_said_of_it_and_of_nothing_before(session: Session, library: Library) -> None:
    library.entries = {"a": BUSY, "b": IO}
    failed(lambda: session.read("a"))
    error = failed(lambda: session.read("b"))
    assert (error.code, error.doing, error.said) == (IO, "tell its b", "could not get b")


# Events


def test_events_are_told_apart_by_their_kind(session: Session, library: Library) -> None:
    library.events = [
        (gp.GP_EVENT_TIMEOUT, None),
        (gp.GP_EVENT_FILE_ADDED, SimpleNamespace(folder="/card", name="A.CR3")),
        (gp.GP_EVENT_CAPTURE_COMPLETE, None),
        (gp.GP_EVENT_UNKNOWN, "Camera Status 1"),
        (gp.GP_EVENT_FOLDER_ADDED, None),
    ]
    assert [session.listen(0.1) for _ in range(5)] == [
        LibraryEvent(kind="nothing"),
        LibraryEvent(kind="file", folder="/card", name="A.CR3"),
        LibraryEvent(kind="complete"),
        LibraryEvent(kind="text", text="Camera Status 1"),
        LibraryEvent(kind="other"),
    ]


def test_it_is_waited_for_in_whole_milliseconds_and_never_for_none(session: Session, library: Library) -> None:
    library.events = [(gp.GP_EVENT_TIMEOUT, None)] * 3
    for slice_s in (0.25, 0.0126, 0.0):
        session.listen(slice_s)
    assert library.waited_ms == [250, 13, 1]


# Files


def test_files_are_listed_from_a_folder_down(session: Session, library: Library) -> None:
    library.tree = {
        "/": (Names(), Names(["card"])),
        "/card": (Names(["A"]), Names(["DCIM", "MISC"])),
        "/card/DCIM": (Names(["B", "C"]), Names()),
        "/card/MISC": (Names(), Names()),
    }
    assert session.files() == [("/card", "A"), ("/card/DCIM", "B"), ("/card/DCIM", "C")]
    assert session.files("/card/DCIM") == [("/card/DCIM", "B"), ("/card/DCIM", "C")]


def info(fields: int, access: int, free_kb: int) -> Any:
    return SimpleNamespace(fields=fields, access=access, freekbytes=free_kb)


def test_what_a_card_does_not_tell_is_not_taken_for_full_or_locked(session: Session, library: Library) -> None:
    access, free = gp.GP_STORAGEINFO_ACCESS, gp.GP_STORAGEINFO_FREESPACEKBYTES
    library.stores = [
        info(access | free, gp.GP_STORAGEINFO_AC_READWRITE, 3),
        info(access | free, gp.GP_STORAGEINFO_AC_READONLY, 0),
        info(0, gp.GP_STORAGEINFO_AC_READONLY, 0),
    ]
    assert session.stores() == [
        Store(read_only=False, free_bytes=3072),
        Store(read_only=True, free_bytes=0),
        Store(read_only=False, free_bytes=None),
    ]


def test_a_body_that_tells_of_no_card_is_told_from_one_that_is_gone(session: Session, library: Library) -> None:
    assert session.stores() is None
    library.stores = IO
    assert failed(session.stores).gone


def test_a_file_is_written_whole_or_its_place_is_said(session: Session, tmp_path: Path) -> None:
    assert session.fetch("/card", "A", tmp_path / "A") == 5
    assert (tmp_path / "A").read_bytes() == b"frame"
    with pytest.raises(TetherError, match="gone"):
        session.fetch("/card", "A", tmp_path / "gone" / "A")


# The end


def test_it_ends_whatever_the_body_says_to_it(session: Session) -> None:
    session.end()


@pytest.mark.parametrize(("opened", "closed"), [(0, []), (7, [7])])
def test_a_descriptor_0_that_the_library_closed_is_put_back(
    opened: int, closed: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    def gone(descriptor: int) -> None:
        raise OSError(descriptor)

    done: list[int] = []
    with monkeypatch.context() as patched:
        patched.setattr(os, "fstat", gone)
        patched.setattr(os, "open", lambda path, flags: opened)
        patched.setattr(os, "close", done.append)
        module._mend_descriptor_zero()
    assert done == closed


def test_the_camera_at_a_port_is_named_without_opening_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "cameras_found", lambda: [("A", "usb:001,004"), ("B", "usb:001,005")])
    assert model_at("usb:001,005") == "B"
    assert model_at("usb:001,006") == ""
