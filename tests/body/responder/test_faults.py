"""Each trouble of the wire does what it says, and so does each of the world's on its way over it."""

from __future__ import annotations

import struct
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.body.responder.client import OK, Answer, Client
from tests.body.responder.observed import observed
from tests.body.responder.rig import Served, served, soon
from tether.body.dialects import Dialect
from tether.body.protocol import SceneChange
from tether.body.responder.faults import Call, WireFault, of_world
from tether.body.responder.start import WireHow
from tether.body.simulated.faults import Fault

ADDED, CHANGED, COMPLETE, EOS_ADDED, EOS_VALUE = 0x4002, 0x4006, 0x400D, 0xC181, 0xC189
TIME, EOS_TIME, EOS_ISO = 0x500D, 0xD102, 0xD103
EIGHTH, SIXTEENTH, BULB = 0x50, 0x58, 0x0C
BUSY, ERROR, STORE_FULL = 0x2019, 0x2002, 0x200C
CAPTURE, TERMINATE, READY = 0x9207, 0x920C, 0x90C8
GONE = (EOFError, ConnectionError)


@contextmanager
def troubled(folder: Path, dialect: Dialect, *faults: WireFault, **truth: Any) -> Iterator[Served]:
    with served(folder, dialect, WireHow(faults=faults), **truth) as camera:
        yield camera


def set_time(client: Client, value: int) -> Answer:
    """Set the time of a Nikon or plain camera, in units of 0.1 ms."""
    return client.ask(0x1016, TIME, data=struct.pack("<I", value))


def capture(client: Client) -> Answer:
    """Take a frame on a Nikon camera, or open it on bulb."""
    return client.ask(CAPTURE, 0, 0)


def on_bulb(client: Client) -> None:
    assert set_time(client, 0xFFFF_FFFF).code == OK
    assert capture(client).code == OK


def comes_back(camera: Served) -> Client:
    """Return a client as soon as one is accepted."""
    until_s = time.monotonic() + 5
    while True:
        try:
            return Client(camera.port)
        except GONE:
            assert time.monotonic() < until_s
            time.sleep(0.01)


def test_drops_resets_the_connection_and_leaves_the_shutter_open(tmp_path: Path) -> None:
    with troubled(tmp_path, "nikon", WireFault(what="drops", after_s=0.1, for_s=0.4)) as camera:
        with Client(camera.port) as client:
            on_bulb(client)
            with pytest.raises(GONE):
                client.answer()
        with pytest.raises(GONE):
            Client(camera.port)
        with comes_back(camera) as client:
            assert client.ask(READY).code == 0xA200
            assert client.ask(TERMINATE, 0, 0).code == OK
            assert client.nikon_events(COMPLETE)[0][0] == ADDED
    (frame,) = observed(tmp_path)
    assert frame.held_s is not None
    assert frame.held_s >= 0.5


def test_drops_can_shut_the_shutter(tmp_path: Path) -> None:
    with troubled(tmp_path, "nikon", WireFault(what="drops", after_s=0.1, shuts=True)) as camera:
        with Client(camera.port) as client:
            on_bulb(client)
            with pytest.raises(GONE):
                client.answer()
        with comes_back(camera) as client:
            assert client.nikon_events(COMPLETE)[0][0] == ADDED
    (frame,) = observed(tmp_path)
    assert frame.closed_ns is None
    assert frame.shutter_closed_ns is not None


def test_drops_in_a_timed_frame_loses_no_frame(tmp_path: Path) -> None:
    with troubled(tmp_path, "eos", WireFault(what="drops", after_s=0.05, for_s=0.1)) as camera:
        with Client(camera.port) as client:
            client.begin_queue()
            assert client.set_eos(EOS_TIME, EIGHTH) == client.ask(0x9128, 3, 1).code == OK
            with pytest.raises(GONE):
                client.answer()
        with comes_back(camera) as client:
            client.begin_queue()
            assert b"SIM_0001.DNG" in client.record(EOS_ADDED)


def test_asleep_accepts_none_for_a_while(tmp_path: Path) -> None:
    with troubled(tmp_path, "eos", WireFault(what="asleep", for_s=0.4)) as camera:
        with pytest.raises(GONE):
            Client(camera.port)
        with comes_back(camera) as client:
            assert client.ask(0x1004).code == OK


class Gate:
    """Stands for a long time that passes when it is let."""

    def __init__(self) -> None:
        self.asked_s: list[float] = []
        self._passed = threading.Semaphore(0)

    def sleep(self, seconds: float) -> None:
        if seconds > 1:
            self.asked_s.append(seconds)
            self._passed.acquire()

    def let_pass(self) -> None:
        self._passed.release()


@pytest.fixture
def gate(monkeypatch: pytest.MonkeyPatch) -> Gate:
    gate = Gate()
    monkeypatch.setattr("tether.body.responder.session.sleep", gate.sleep)
    return gate


def test_answers_late_has_acted_before(tmp_path: Path, gate: Gate) -> None:
    calls: tuple[Call, ...] = ("set", "open", "close", "get")
    faults = [WireFault(what="answers late", at_call=call, for_s=place + 3) for place, call in enumerate(calls)]
    with troubled(tmp_path, "nikon", *faults) as camera, Client(camera.port) as client:
        client.send(0x1016, TIME, data=struct.pack("<I", 0xFFFF_FFFF))
        assert soon(lambda: gate.asked_s == [3])
        assert camera.physics.settings().time == "bulb"
        gate.let_pass()
        assert client.answer().code == OK
        client.send(CAPTURE, 0, 0)
        assert soon(lambda: gate.asked_s == [3, 4])
        assert camera.physics.held_s() is not None
        gate.let_pass()
        assert client.answer().code == OK
        client.send(TERMINATE, 0, 0)
        assert soon(lambda: gate.asked_s == [3, 4, 5])
        assert camera.physics.held_s() is None
        gate.let_pass()
        assert client.answer().code == OK
        client.send(0x1009, client.nikon_events(COMPLETE)[0][1])
        assert soon(lambda: len(gate.asked_s) == 4 and gate.asked_s[3] > 6)
        gate.let_pass()
        assert len(client.answer().data or b"") > 1000


def test_answers_late_can_be_at_one_frame_s_trigger_only(tmp_path: Path, gate: Gate) -> None:
    fault = WireFault(what="answers late", at_call="trigger", at_frame=2, for_s=3)
    with troubled(tmp_path, "nikon", fault) as camera, Client(camera.port) as client:
        assert capture(client).code == OK
        client.nikon_events(COMPLETE)
        assert gate.asked_s == []
        client.send(CAPTURE, 0, 0)
        assert soon(lambda: gate.asked_s == [3])
        assert camera.physics.made == 2
        gate.let_pass()
        assert client.answer().code == OK


def test_answers_busy_has_done_nothing(tmp_path: Path) -> None:
    fault = WireFault(what="answers busy", at_call="trigger", times=2)
    with troubled(tmp_path, "nikon", fault) as camera, Client(camera.port) as client:
        assert [capture(client).code, capture(client).code] == [BUSY, BUSY]
        assert camera.physics.made == 0
        assert capture(client).code == OK


@pytest.mark.parametrize("what", ["cut short", "garbled"])
def test_a_transfer_that_goes_wrong_goes_well_the_next_time(tmp_path: Path, what: str) -> None:
    fault = WireFault(what=what, at_frame=1)
    with troubled(tmp_path, "nikon", fault) as camera, Client(camera.port) as client:
        assert capture(client).code == OK
        handle = client.nikon_events(COMPLETE)[0][1]
        wrong, right = client.ask(0x1009, handle), client.ask(0x1009, handle)
        assert wrong.code == right.code == OK
        whole = (camera.folder / "wire" / "SIM_0001.DNG").read_bytes()
        assert right.data == whole
        assert wrong.data != whole
        assert len(wrong.data or b"") == (len(whole) // 2 if what == "cut short" else len(whole))


def take(client: Client, dialect: Dialect) -> list[tuple[int, int]]:
    """Take a frame, and return the events up to the one that it is complete."""
    assert client.ask(CAPTURE if dialect == "nikon" else 0x100E, 0, 0).code == OK
    if dialect == "nikon":
        return client.nikon_events(COMPLETE)
    events = []
    while (event := client.event()) is not None:
        events.append(event)
        if event[0] == COMPLETE:
            break
    return events


@pytest.mark.parametrize("dialect", ["nikon", "plain"])
def test_event_late_tells_of_a_file_that_has_long_been_there(tmp_path: Path, dialect: Dialect) -> None:
    fault = WireFault(what="event late", for_s=0.2)
    with troubled(tmp_path, dialect, fault) as camera, Client(camera.port) as client:
        assert [code for code, _ in take(client, dialect)] == [ADDED, COMPLETE]
        assert time.time() - (camera.folder / "wire" / "SIM_0001.DNG").stat().st_mtime >= 0.2


@pytest.mark.parametrize("dialect", ["nikon", "plain"])
def test_event_twice_tells_of_a_file_twice(tmp_path: Path, dialect: Dialect) -> None:
    with troubled(tmp_path, dialect, WireFault(what="event twice")) as camera, Client(camera.port) as client:
        first, again, complete = take(client, dialect)
        assert first == again
        assert (first[0], complete[0]) == (ADDED, COMPLETE)


@pytest.mark.parametrize("dialect", ["nikon", "plain"])
def test_event_never_tells_of_the_next_file_only(tmp_path: Path, dialect: Dialect) -> None:
    with troubled(tmp_path, dialect, WireFault(what="event never")) as camera, Client(camera.port) as client:
        assert client.ask(CAPTURE if dialect == "nikon" else 0x100E, 0, 0).code == OK
        assert soon(lambda: client.ask(0x1006, 0x10001, 0, 0x1000_0001).parameters == (1,))
        (_, handle), _ = take(client, dialect)
        info = client.ask(0x1008, handle).data
        assert info is not None
        assert "SIM_0002.DNG".encode("utf-16-le") in info


def test_keeps_and_tells_the_old_value(tmp_path: Path) -> None:
    with troubled(tmp_path, "eos", WireFault(what="keeps and tells")) as camera, Client(camera.port) as client:
        client.begin_queue()
        assert client.set_eos(EOS_TIME, EIGHTH) == OK
        (told,) = [body for code, body in client.records() if code == EOS_VALUE]
        assert told == struct.pack("<II", EOS_TIME, 0xA0)
        assert camera.physics.settings().time == "1/8000"
        assert client.set_eos(EOS_TIME, EIGHTH) == OK
        assert camera.physics.settings().time == "1/8"


def test_keeps_and_tells_by_an_event_of_its_own(tmp_path: Path) -> None:
    with troubled(tmp_path, "plain", WireFault(what="keeps and tells")) as camera, Client(camera.port) as client:
        assert set_time(client, 1250).code == OK
        assert client.event() == (CHANGED, TIME)
        assert client.ask(0x1015, TIME).data == struct.pack("<I", 1)


def test_keeps_silently_tells_nothing(tmp_path: Path) -> None:
    with troubled(tmp_path, "eos", WireFault(what="keeps silently")) as camera, Client(camera.port) as client:
        client.begin_queue()
        assert client.set_eos(EOS_TIME, EIGHTH) == OK
        assert client.records() == []
        assert camera.physics.settings().time == "1/8000"


def test_busy_after_a_held_and_after_a_timed_frame(tmp_path: Path) -> None:
    fault = WireFault(what="busy after", for_s=0.4, times="always")
    with troubled(tmp_path, "nikon", fault) as camera, Client(camera.port) as client:
        on_bulb(client)
        assert client.ask(TERMINATE, 0, 0).code == OK
        assert [client.ask(READY).code, set_time(client, 1250).code, capture(client).code] == [BUSY] * 3
        assert soon(lambda: set_time(client, 1250).code == OK)
        assert capture(client).code == OK
        assert soon(lambda: camera.physics.card.news() != [])
        assert client.ask(READY).code == BUSY
        assert soon(lambda: client.ask(READY).code == OK)


def test_refuses_the_close_once(tmp_path: Path) -> None:
    with troubled(tmp_path, "nikon", WireFault(what="refuses the close")) as camera, Client(camera.port) as client:
        on_bulb(client)
        assert client.ask(TERMINATE, 0, 0).code == ERROR
        assert camera.physics.held_s() is not None
        assert client.ask(TERMINATE, 0, 0).code == OK
        assert camera.physics.held_s() is None


def test_pressed_takes_a_frame_by_hand_that_is_told(tmp_path: Path) -> None:
    with troubled(tmp_path, "nikon", WireFault(what="pressed", after_s=0.05)) as camera, Client(camera.port) as client:
        assert client.nikon_events(COMPLETE)[0][0] == ADDED
    assert [(frame.by, frame.held) for frame in observed(tmp_path)] == [("by hand", False)]


# The world's


def test_what_of_the_world_s_is_the_wire_s() -> None:
    assert of_world(Fault(what="truncates", at_frame=2, times=3)) == WireFault(what="cut short", at_frame=2, times=3)
    assert of_world(Fault(what="times out", at_call="fetch", for_s=1)) == WireFault(
        what="answers busy", at_call="get", for_s=1
    )
    assert of_world(Fault(what="times out", at_call="files")) == WireFault(what="answers busy", at_call="events")
    assert of_world(Fault(what="times out", at_call="open")) is None
    assert of_world(Fault(what="vanishes")) is None


def test_a_body_that_vanishes_takes_the_connection_with_it(tmp_path: Path) -> None:
    fault = Fault(what="vanishes", after_s=0.1, for_s=0.2)
    with served(tmp_path, "nikon", faults=(fault,)) as camera:
        with Client(camera.port) as client:
            on_bulb(client)
            with pytest.raises(GONE):
                client.answer()
        with comes_back(camera) as client:
            assert client.ask(TERMINATE, 0, 0).code == OK
            assert client.nikon_events(COMPLETE)[0][0] == ADDED


def test_a_body_whose_battery_dies_is_gone_until_it_is_changed(tmp_path: Path) -> None:
    with served(tmp_path, "nikon", faults=(Fault(what="battery dies", after_s=0.1),)) as camera:
        with Client(camera.port) as client:
            on_bulb(client)
            with pytest.raises(GONE):
                client.answer()
        with pytest.raises(GONE):
            Client(camera.port)
        camera.physics.stage(SceneChange(new_battery=True))
        with comes_back(camera) as client:
            assert client.nikon_events(COMPLETE)[0][0] == ADDED
            assert client.ask(READY).code == OK


def test_a_full_card_takes_no_frame(tmp_path: Path) -> None:
    with served(tmp_path, "nikon", card_frames=1) as camera, Client(camera.port) as client:
        assert capture(client).code == OK
        client.nikon_events(COMPLETE)
        assert capture(client).code == STORE_FULL


def test_a_read_back_that_lies_is_told_and_the_record_has_the_truth(tmp_path: Path) -> None:
    fault = Fault(what="keeps the old", setting="iso")
    with served(tmp_path, "eos", faults=(fault,)) as camera, Client(camera.port) as client:
        client.begin_queue()
        assert client.set_eos(EOS_ISO, 0x50) == OK
        assert (EOS_VALUE, struct.pack("<II", EOS_ISO, 0x50)) in client.records()
        assert client.ask(0x9128, 3, 1).code == OK
        assert b"SIM_0001.DNG" in client.record(EOS_ADDED)
    assert [frame.iso for frame in observed(tmp_path)] == ["50"]


def test_another_value_that_is_taken_is_told(tmp_path: Path) -> None:
    fault = Fault(what="takes another", setting="time")
    with served(tmp_path, "eos", faults=(fault,)) as camera, Client(camera.port) as client:
        client.begin_queue()
        assert client.set_eos(EOS_TIME, SIXTEENTH) == OK
        assert (EOS_VALUE, struct.pack("<II", EOS_TIME, 0x55)) in client.records()


def test_a_body_that_times_out_is_busy_and_one_that_refuses_says_so(tmp_path: Path) -> None:
    faults = (
        Fault(what="times out", at_call="take", for_s=0.01),
        Fault(what="times out", at_call="fetch"),
        Fault(what="refuses", setting="time"),
    )
    with served(tmp_path, "nikon", faults=faults) as camera, Client(camera.port) as client:
        assert set_time(client, 1250).code == 0x201C
        assert capture(client).code == BUSY
        assert capture(client).code == OK
        handle = client.nikon_events(COMPLETE)[0][1]
        assert client.ask(0x1009, handle).code == BUSY
        assert client.ask(0x1009, handle).code == OK
