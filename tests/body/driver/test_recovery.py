"""Only the same body is taken again: on USB devices as sysfs shows them, and sessions that say who they are with."""

from __future__ import annotations

import errno
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from tests.body.driver.fakes import FakeSession, failure
from tether.body.bodyfile import load_body_file
from tether.body.driver import known, recovery
from tether.body.driver.errors import BUSY, IO, LibraryError
from tether.body.driver.profile import Link
from tether.body.driver.recovery import Recovery
from tether.body.driver.session import ConfigEntry, Session
from tether.body.driver.usb import UsbDevice
from tether.errors import CameraError, LostError

PROFILE = load_body_file("canon-eos").driver
assert PROFILE is not None


class Told(FakeSession):
    """A session with a body that tells its model, and a serial number where it has one."""

    @property
    def model(self) -> str:
        return self.name

    name: str = ""
    busy: bool = False
    ended: bool = False

    def read(self, name: str) -> ConfigEntry:
        if self.busy:
            raise failure(BUSY)
        return super().read(name)

    def end(self) -> None:
        self.ended = True


def device(port: int, place: str, kind: str = "3250", serial: str = "") -> UsbDevice:
    return UsbDevice(
        name=f"Maker {kind}",
        node=Path("/dev/null"),
        port=f"usb:001,{port:03}",
        place=place,
        vendor="04a9",
        product=kind,
        serial=serial,
    )


@dataclass
class Bus:
    """What is plugged in: by port the device, and the model and serial number that its body tells."""

    there: dict[str, tuple[UsbDevice, str, str]] = field(default_factory=dict)
    opened: list[str] = field(default_factory=list)
    reset: list[str] = field(default_factory=list)
    fails: int = 0
    busy: bool = False
    sessions: list[Told] = field(default_factory=list)

    def plug(self, one: UsbDevice, model: str, serial: str) -> UsbDevice:
        self.there[one.port] = (one, model, serial)
        return one

    def devices(self) -> tuple[UsbDevice, ...]:
        return tuple(one for one, _, _ in self.there.values())

    def session(self, port: str, _model: str) -> Session:
        self.opened.append(port)
        if self.fails:
            self.fails -= 1
            raise failure(IO)
        _, model, serial = self.there[port]
        session = Told(entries={"deviceversion": ConfigEntry(value="1.2", choices=(), writable=False)})
        if serial:
            session.entries["serialnumber"] = ConfigEntry(value=serial, choices=(), writable=False)
        session.name, session.busy = model, self.busy
        self.sessions.append(session)
        return session


@pytest.fixture
def bus(monkeypatch: pytest.MonkeyPatch) -> Bus:
    bus = Bus()
    monkeypatch.setattr(recovery, "find_devices", bus.devices)
    monkeypatch.setattr(recovery, "Session", bus.session)
    monkeypatch.setattr(recovery, "reset_port", bus.reset.append)
    monkeypatch.setattr(recovery, "model_at", lambda port: bus.there[port][1])
    monkeypatch.setattr(recovery, "_AFTER_RESET_S", 0.0)
    return bus


class Rig:
    """A recovery on a bus, and what it told."""

    def __init__(self, bus: Bus, folder: Path, port: str = "") -> None:
        self.bus = bus
        self.faces: list[str] = []
        self.journal: list[str] = []
        assert PROFILE is not None
        self.recovery = Recovery(Link(profile=PROFILE, port=port), folder, self.tell)

    def tell(self, text: str, kept: str = "", /) -> None:
        self.faces.append(text)
        self.journal.append(kept or text)

    def first(self) -> Session:
        return self.recovery.first_session()

    def again(self, old: Session) -> Session:
        self.bus.opened.clear()
        return self.recovery.new_session(old)


EOS, NIKON = "Canon EOS 6D", "Nikon DSC D7100"


def begun(bus: Bus, folder: Path, serial: str = "123", usb_serial: str = "") -> tuple[Rig, Session]:
    """Return a recovery with a session on an EOS at port 1-1."""
    bus.plug(device(4, "1-1", serial=usb_serial), EOS, serial)
    rig = Rig(bus, folder)
    return rig, rig.first()


def test_the_same_body_is_taken_at_any_address(bus: Bus, tmp_path: Path) -> None:
    rig, session = begun(bus, tmp_path)
    bus.there = {}
    bus.plug(device(9, "1-3"), EOS, "123")
    assert rig.again(session).model == EOS
    assert bus.opened == ["usb:001,009"]


def test_another_kind_of_body_is_named_and_not_even_opened(bus: Bus, tmp_path: Path) -> None:
    rig, session = begun(bus, tmp_path)
    bus.there = {}
    bus.plug(device(5, "1-1", kind="0430"), NIKON, "9")
    with pytest.raises(LostError, match="Nikon DSC D7100 at usb:001,005"):
        rig.again(session)
    assert bus.opened == []
    assert bus.reset == []
    assert "Nikon DSC D7100 at usb:001,005 is not the camera of this ladder" in " ".join(rig.faces)


def test_another_body_of_the_model_is_refused_by_its_serial_number(bus: Bus, tmp_path: Path) -> None:
    rig, session = begun(bus, tmp_path)
    bus.there = {}
    bus.plug(device(5, "1-1"), EOS, "124")
    with pytest.raises(LostError, match="not found"):
        rig.again(session)
    bus.plug(device(6, "1-2"), EOS, "123")
    assert rig.again(session).model == EOS
    assert bus.opened == ["usb:001,005", "usb:001,006"]


def test_a_serial_number_on_usb_tells_before_anything_is_opened(bus: Bus, tmp_path: Path) -> None:
    rig, session = begun(bus, tmp_path, usb_serial="A1")
    bus.there = {}
    bus.plug(device(5, "1-1", serial="B2"), EOS, "124")
    bus.plug(device(6, "1-2", serial="A1"), EOS, "123")
    rig.again(session)
    assert bus.opened == ["usb:001,006"]


def test_without_a_serial_number_the_same_model_at_the_same_port_is_taken_if_it_is_the_only_one(
    bus: Bus, tmp_path: Path
) -> None:
    rig, session = begun(bus, tmp_path, serial="")
    bus.there = {}
    bus.plug(device(7, "1-1"), EOS, "")
    assert rig.again(session).model == EOS


@pytest.mark.parametrize("places", [["1-2"], ["1-1", "1-2"]], ids=["at another port", "two of them"])
def test_without_a_serial_number_the_person_is_asked_otherwise(bus: Bus, tmp_path: Path, places: list[str]) -> None:
    rig, session = begun(bus, tmp_path, serial="")
    bus.there = {}
    for number, place in enumerate(places, start=7):
        bus.plug(device(number, place), EOS, "")
    with pytest.raises(CameraError, match=r"can't be told.*--port usb:001,007"):
        rig.again(session)
    assert bus.opened == []
    assert bus.reset == []


def test_the_answer_is_the_port_that_is_named_when_a_run_goes_on(bus: Bus, tmp_path: Path) -> None:
    begun(bus, tmp_path, serial="")
    bus.there = {}
    bus.plug(device(7, "1-1"), EOS, "")
    bus.plug(device(8, "1-2"), EOS, "")
    Rig(bus, tmp_path, port="usb:001,008").first()
    assert bus.opened[-1] == "usb:001,008"


def test_it_is_known_to_a_camera_process_that_comes_after(bus: Bus, tmp_path: Path) -> None:
    begun(bus, tmp_path)
    bus.there = {}
    bus.plug(device(5, "1-1"), EOS, "124")
    with pytest.raises(LostError):
        Rig(bus, tmp_path).first()
    known.forget(tmp_path)
    assert Rig(bus, tmp_path).first().model == EOS


def test_only_its_own_port_is_reset(bus: Bus, tmp_path: Path) -> None:
    rig, session = begun(bus, tmp_path)
    bus.there = {}
    bus.plug(device(3, "1-4", kind="0430"), NIKON, "9")
    bus.plug(device(4, "1-1"), EOS, "123")
    bus.fails = 1
    rig.again(session)
    assert bus.reset == ["usb:001,004"]


def test_a_reset_by_which_the_body_leaves_and_comes_back_is_one(
    bus: Bus, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rig, session = begun(bus, tmp_path)

    def leave(port: str) -> None:
        bus.reset.append(port)
        bus.there = {}
        bus.plug(device(5, "1-1"), EOS, "123")
        raise failure(IO)

    monkeypatch.setattr(recovery, "reset_port", leave)
    bus.fails = 1
    assert rig.again(session).model == EOS
    assert bus.opened[-1] == "usb:001,005"


def test_a_camera_process_that_comes_after_resets_the_port_too(bus: Bus, tmp_path: Path) -> None:
    begun(bus, tmp_path)
    bus.fails = 1
    assert Rig(bus, tmp_path).first().model == EOS
    assert bus.reset == ["usb:001,004"]


def test_a_body_that_is_not_known_yet_is_not_reset(bus: Bus, tmp_path: Path) -> None:
    bus.plug(device(4, "1-1"), EOS, "123")
    bus.fails = 1
    with pytest.raises(LibraryError):
        Rig(bus, tmp_path).first()
    assert bus.reset == []


def test_no_port_is_reset_where_it_may_be_anothers(bus: Bus, tmp_path: Path) -> None:
    rig, session = begun(bus, tmp_path)
    bus.there = {}
    bus.plug(device(5, "1-2"), EOS, "123")
    bus.plug(device(6, "1-3"), EOS, "124")
    bus.fails = 2
    with pytest.raises(LibraryError):
        rig.again(session)
    assert bus.reset == []


def test_a_body_that_is_too_busy_to_say_which_it_is_is_let_go_and_its_port_is_not_reset(
    bus: Bus, tmp_path: Path
) -> None:
    """A session that is left open keeps the body from the next one; a reset could spoil the frame it is busy with."""
    rig, session = begun(bus, tmp_path)
    bus.busy = True
    with pytest.raises(LibraryError):
        rig.again(session)
    assert [one.ended for one in bus.sessions] == [True, True]
    assert bus.reset == []
    bus.busy = False
    assert rig.again(session).model == EOS
    assert not bus.sessions[-1].ended


def test_a_body_at_another_port_is_taken_on_a_full_disk_too_and_is_known_as_before(
    bus: Bus, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A shutter must be closed then too."""
    rig, session = begun(bus, tmp_path)
    bus.there = {}
    bus.plug(device(9, "1-3"), EOS, "123")

    def full(path: Path, _text: str, **_: str) -> int:
        path.write_bytes(b"")
        raise OSError(errno.ENOSPC, "full")

    monkeypatch.setattr(Path, "write_text", full)
    assert rig.again(session).model == EOS
    kept = known.kept(tmp_path)
    assert kept is not None
    assert (kept.serial, kept.place) == ("123", "1-1")


def test_several_cameras_of_which_none_is_known_are_asked_about(bus: Bus, tmp_path: Path) -> None:
    bus.plug(device(4, "1-1"), EOS, "123")
    bus.plug(device(5, "1-2", kind="0430"), NIKON, "9")
    with pytest.raises(CameraError, match="say which: --port usb:001,004 or usb:001,005"):
        Rig(bus, tmp_path).first()
    assert bus.opened == []


def test_the_journal_has_model_serial_and_firmware_at_each_opening_and_faces_no_serial(
    bus: Bus, tmp_path: Path
) -> None:
    rig, session = begun(bus, tmp_path)
    bus.there = {}
    bus.plug(device(9, "1-3"), EOS, "123")
    rig.again(session)
    assert "Session with Canon EOS 6D, serial 123, firmware 1.2 at usb:001,004." in rig.journal
    assert "Session with Canon EOS 6D, serial 123, firmware 1.2 at usb:001,009." in rig.journal
    assert "Again with Canon EOS 6D at usb:001,009." in rig.faces
    assert "123" not in " ".join(rig.faces)
