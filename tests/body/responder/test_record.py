"""The observer's record: every exposure and every operation, with the moment of the command."""

from __future__ import annotations

import struct
import time
from pathlib import Path

from tests.body.responder.client import OK, Client
from tests.body.responder.observed import observed, operations
from tests.body.responder.rig import served, soon

TIME, CAPTURE, TERMINATE, COMPLETE = 0x500D, 0x9207, 0x920C, 0x400D


def test_exposures_have_their_commands_their_shutter_and_what_was_in_force(tmp_path: Path) -> None:
    with served(tmp_path, "nikon", open_delay_s=0.06, close_delay_s=0.04) as camera, Client(camera.port) as client:
        client.ask(0x1016, TIME, data=struct.pack("<I", 0xFFFF_FFFF))
        before_ns = time.monotonic_ns()
        assert client.ask(CAPTURE, 0, 0).code == OK
        between_ns = time.monotonic_ns()
        assert soon(lambda: (camera.physics.held_s() or 0) > 0.05)
        assert client.ask(TERMINATE, 0, 0).code == OK
        after_ns = time.monotonic_ns()
        client.nikon_events(COMPLETE)
        client.ask(0x1016, TIME, data=struct.pack("<I", 1250))
        assert client.ask(CAPTURE, 0, 0).code == OK
        client.nikon_events(COMPLETE)
        camera.physics.press()
        client.nikon_events(COMPLETE)
    held, timed, by_hand = observed(tmp_path)
    assert held.closed_ns is not None
    assert held.shutter_closed_ns is not None
    assert before_ns < held.opened_ns < between_ns < held.closed_ns < after_ns
    assert held.shutter_opened_ns - held.opened_ns == 60_000_000
    assert held.shutter_closed_ns - held.closed_ns == 40_000_000
    assert held.held_s == (held.closed_ns - held.opened_ns) / 1e9
    assert [one.frame for one in (held, timed, by_hand)] == [1, 2, 3]
    assert [one.held for one in (held, timed, by_hand)] == [True, False, False]
    assert [one.by for one in (held, timed, by_hand)] == ["command", "command", "by hand"]
    assert (held.time, timed.time, timed.aperture, timed.iso) == ("bulb", "1/8", "f/2.8", "50")
    assert timed.held_s is None


def test_a_press_on_bulb_is_let_go_again(tmp_path: Path) -> None:
    with served(tmp_path, "nikon") as camera, Client(camera.port) as client:
        client.ask(0x1016, TIME, data=struct.pack("<I", 0xFFFF_FFFF))
        camera.physics.press()
        client.nikon_events(COMPLETE)
    (frame,) = observed(tmp_path)
    assert frame.by == "by hand"
    assert frame.held_s is not None


def test_a_shutter_that_is_open_has_not_closed(tmp_path: Path) -> None:
    with served(tmp_path, "nikon") as camera, Client(camera.port) as client:
        client.ask(0x1016, TIME, data=struct.pack("<I", 0xFFFF_FFFF))
        assert client.ask(CAPTURE, 0, 0).code == OK
    (frame,) = observed(tmp_path)
    assert (frame.closed_ns, frame.shutter_closed_ns, frame.held_s) == (None, None, None)


def test_operations_are_all_there_in_order(tmp_path: Path) -> None:
    with served(tmp_path, "nikon") as camera, Client(camera.port) as client:
        client.ask(0x9999, 5)
        client.ask(TERMINATE, 0, 0)
    opened, unknown, terminated = operations(tmp_path)
    assert (opened.name, opened.parameters, opened.response) == ("open session", (1,), OK)
    assert (unknown.code, unknown.name, unknown.parameters, unknown.response) == (0x9999, "0x9999", (5,), 0x2005)
    assert (terminated.name, terminated.response) == ("nikon terminate capture", 0xA004)
    assert opened.at_ns < unknown.at_ns < terminated.at_ns


def test_a_camera_that_is_started_again_goes_on_with_card_numbers_and_open_shutter(tmp_path: Path) -> None:
    with served(tmp_path, "nikon") as camera, Client(camera.port) as client:
        assert client.ask(CAPTURE, 0, 0).code == OK
        client.nikon_events(COMPLETE)
        client.ask(0x1016, TIME, data=struct.pack("<I", 0xFFFF_FFFF))
        assert client.ask(CAPTURE, 0, 0).code == OK
    with served(tmp_path, "nikon") as camera, Client(camera.port) as client:
        assert client.ask(TERMINATE, 0, 0).code == OK
        client.nikon_events(COMPLETE)
        assert client.ask(0x1006, 0x10001, 0, 0x1000_0001).parameters == (2,)
    assert [frame.frame for frame in observed(tmp_path)] == [1, 2]
    assert observed(tmp_path)[1].held_s is not None


def test_where_nothing_was_recorded_there_is_nothing(tmp_path: Path) -> None:
    assert observed(tmp_path) == []
    assert operations(tmp_path) == []
