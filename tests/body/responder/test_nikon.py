"""The dialect of Nikon bodies, by bytes laid out as libgphoto2's public source describes them."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.body.responder.client import OK, Client
from tests.body.responder.rig import Served, served, soon
from tether.body.responder.nikon import exact_time
from tether.exposure.marks import Step, time_marks

TIME, EXACT_TIME, FRAMES_LEFT, DARK_FRAME, COMPRESSION = 0x500D, 0xD100, 0xD1F1, 0xD06B, 0x5004
CAPTURE, CAPTURE_TO_RAM, TERMINATE, READY, DELETE_IN_RAM = 0x9207, 0x90C0, 0x920C, 0x90C8, 0x90C3
ADDED, COMPLETE, ADDED_IN_RAM = 0x4002, 0x400D, 0xC101
BUSY, BULB_BUSY, INVALID_STATUS, OUT_OF_FOCUS = 0x2019, 0xA200, 0xA004, 0xA002
NOT_IN_LIVE_VIEW = 0xA00B
BULB, WITHOUT_AF, WITH_AF, CARD, RAM = 0xFFFF_FFFF, 0xFFFF_FFFF, 0xFFFF_FFFE, 0, 1


@pytest.fixture
def camera(tmp_path: Path) -> Iterator[Served]:
    with served(tmp_path, "nikon") as camera:
        yield camera


@pytest.fixture
def client(camera: Served) -> Iterator[Client]:
    with Client(camera.port) as client:
        assert client.ask(0x90C2, 1).code == OK
        yield client


def test_a_timed_frame_is_waited_for_and_told_when_asked(camera: Served, client: Client) -> None:
    assert client.ask(0x1016, EXACT_TIME, data=struct.pack("<I", 1 << 16 | 4)).code == OK
    assert client.ask(0x1015, TIME).data == struct.pack("<I", 2500)
    assert client.ask(CAPTURE, WITHOUT_AF, CARD).code == OK
    assert client.ask(READY).code == BUSY
    events = client.nikon_events(COMPLETE)
    assert [code for code, _ in events] == [ADDED, COMPLETE]
    assert client.ask(READY).code == OK
    assert client.ask(0x1009, events[0][1]).data == (camera.folder / "wire" / "SIM_0001.DNG").read_bytes()
    assert client.ask(0x1015, FRAMES_LEFT).data == struct.pack("<I", 999)


def test_a_held_frame_is_bulb_busy_until_it_is_terminated(camera: Served, client: Client) -> None:
    assert client.ask(TERMINATE, 0, 0).code == INVALID_STATUS
    assert client.ask(0x1016, TIME, data=struct.pack("<I", BULB)).code == OK
    assert client.ask(CAPTURE, 0, CARD).code == OK
    assert client.ask(READY).code == BULB_BUSY
    assert client.ask(CAPTURE, 0, CARD).code == BUSY
    assert client.ask(TERMINATE, 0, 0).code == OK
    assert not camera.physics.held_open
    assert soon(lambda: client.ask(READY).code == OK)
    assert client.nikon_events(COMPLETE)[0][0] == ADDED


def test_after_a_dark_frame_it_is_busy_as_long_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tether.body.simulated.body.DARK_FRAME_FROM_S", 0.1)
    with served(tmp_path, "nikon", dark_frame_by_body=True) as camera, Client(camera.port) as client:
        assert client.ask(0x1015, DARK_FRAME).data == b"\x01"
        assert client.ask(0x1016, TIME, data=struct.pack("<I", BULB)).code == OK
        assert client.ask(CAPTURE, 0, CARD).code == OK
        assert soon(lambda: (camera.physics.held_s() or 0.0) >= 0.3)
        assert client.ask(TERMINATE, 0, 0).code == OK
        assert client.ask(READY).code == BUSY
        assert soon(lambda: client.ask(READY).code == OK)


def test_with_the_lens_on_auto_a_capture_that_focuses_is_out_of_focus(camera: Served, client: Client) -> None:
    camera.physics.focus = "af"
    assert client.ask(CAPTURE, WITH_AF, CARD).code == OUT_OF_FOCUS
    assert client.ask(CAPTURE, WITHOUT_AF, CARD).code == OK


@pytest.mark.parametrize("how", [(CAPTURE, WITHOUT_AF, RAM), (CAPTURE_TO_RAM, WITHOUT_AF)])
def test_to_memory_a_frame_is_on_no_card_until_it_is_deleted(client: Client, how: tuple[int, ...]) -> None:
    assert client.ask(*how).code == OK
    ((_, handle),) = [event for event in client.nikon_events(COMPLETE) if event[0] == ADDED_IN_RAM]
    info = client.ask(0x1008, handle).data
    assert info is not None
    assert struct.unpack_from("<I", info, 38) == (0,)
    assert client.ask(0x1006, 0x10001, 0, 0x1000_0001).parameters == (0,)
    assert client.ask(DELETE_IN_RAM, handle).code == OK
    assert client.ask(0x1008, handle).code != OK


def test_raw_with_jpeg_can_be_set(client: Client) -> None:
    assert client.ask(0x1016, COMPRESSION, data=b"\x07").code == OK
    assert client.ask(0x1015, COMPRESSION).data == b"\x07"
    assert client.ask(CAPTURE, WITHOUT_AF, CARD).code == OK
    assert [code for code, _ in client.nikon_events(COMPLETE)] == [ADDED, ADDED, COMPLETE]
    assert client.ask(0x1016, COMPRESSION, data=b"\x63").code != OK


def test_times_are_numerator_and_denominator() -> None:
    codes = {mark.label: exact_time(mark) for mark in time_marks(Step.THIRD)}
    assert [codes[label] for label in ("1/8000", "0.3", "0.5", "1.3", "2.5", "30", "4:16")] == [
        1 << 16 | 8000, 10 << 16 | 30, 1 << 16 | 2, 13 << 16 | 10, 25 << 16 | 10, 30 << 16 | 1, 256 << 16 | 1,
    ]  # fmt: skip


def test_live_view_is_a_jpeg_behind_a_head_while_it_is_on_and_focus_moves_on_af_only(
    camera: Served, client: Client
) -> None:
    assert client.ask(0x9203).code == client.ask(0x9204, 1, 50).code == NOT_IN_LIVE_VIEW
    assert client.ask(0x9201).code == OK
    assert client.ask(0x1015, 0xD1A2).data == b"\1"
    data = client.ask(0x9203).data
    assert data is not None
    assert data[384:386] == b"\xff\xd8"
    assert b"\xff\xd8" not in data[:384]
    assert client.ask(0x9204, 1, 50).code == INVALID_STATUS
    camera.physics.focus = "af"
    assert client.ask(0x9204, 1, 50).code == OK
    assert client.ask(CAPTURE, WITHOUT_AF, CARD).code == OK
    assert client.ask(0x1015, 0xD1A2).data == b"\0"
    assert soon(lambda: client.ask(0x9202).code == OK)
