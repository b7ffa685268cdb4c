"""Connections and sessions: who is served, and that nothing a client sends ends the camera."""

from __future__ import annotations

import contextlib
import random
import socket
import struct
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.body.responder.client import OK, Client, connected, hello, packet, received
from tests.body.responder.rig import Served, served
from tether.body.dialects import Dialect
from tether.body.responder import server

NOT_OPEN, ALREADY_OPEN, NOT_SUPPORTED = 0x2003, 0x201E, 0x2005
BROKEN = [
    b"GET / HTTP/1.1\r\n\r\n",
    struct.pack("<II", 0xFFFF_FFFF, 1),
    struct.pack("<II", 0, 0),
    packet(1, b"x"),
    packet(2, b"x" * 40),
    packet(3, b"x"),
    packet(3, bytes(4)),
    packet(6, struct.pack("<IHI", 1, 0x1001, 1)),
    packet(99, b"x" * 1000),
    b"",
]


@pytest.fixture
def camera(tmp_path: Path) -> Iterator[Served]:
    with served(tmp_path, "eos") as camera:
        yield camera


def no_more(end: socket.socket) -> None:
    """Send no more on a connection, if it is still there."""
    with contextlib.suppress(OSError):
        end.shutdown(socket.SHUT_WR)


def ended(end: socket.socket) -> bool:
    """Wait for a connection's end."""
    try:
        while end.recv(4096):
            pass
    except ConnectionResetError:
        pass
    return True


def test_who_it_is_is_told_before_a_session_and_the_rest_within_one(camera: Served) -> None:
    with Client(camera.port, opens=False) as client:
        told = client.ask(0x1001)
        assert told.code == OK
        assert told.data is not None
        assert "Tether".encode("utf-16-le") in told.data
        assert "imulated".encode("utf-16-le") in told.data
        assert client.ask(0x1004).code == NOT_OPEN
        assert client.ask(0x1002, 1).code == OK
        assert client.ask(0x1002, 1).code == ALREADY_OPEN
        assert client.ask(0x1004).code == OK
        assert client.ask(0x1003).code == OK
        assert client.ask(0x1004).code == NOT_OPEN


def test_what_it_does_not_know_it_says(camera: Served) -> None:
    with Client(camera.port) as client:
        assert client.ask(0x9999, 1, 2, 3).code == NOT_SUPPORTED
        assert client.ask(0x9999, data=b"12345").code == NOT_SUPPORTED


def test_one_client_at_a_time_and_the_next_when_it_is_gone(camera: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "_TURNED_AWAY_AFTER_S", 0.05)
    with Client(camera.port) as first:
        with connected(camera.port) as second:
            second.sendall(hello())
            assert received(second) == (5, struct.pack("<I", 2))
        assert first.ask(0x1004).code == OK
    monkeypatch.setattr(server, "_TURNED_AWAY_AFTER_S", 5.0)
    with Client(camera.port) as next_one:
        assert next_one.ask(0x1004).code == OK


def test_a_strange_connection_does_not_disturb_a_client(camera: Served) -> None:
    with Client(camera.port) as client, connected(camera.port) as strange:
        strange.sendall(packet(3, struct.pack("<I", client.number)))
        assert ended(strange)
        assert client.ask(0x1004).code == OK


def test_a_client_without_its_second_connection_is_ended(camera: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "_GREETS_WITHIN_S", 0.1)
    with connected(camera.port) as end:
        end.sendall(hello())
        assert received(end)[0] == 2
        assert ended(end)
    with Client(camera.port) as client:
        assert client.ask(0x1004).code == OK


@pytest.mark.parametrize("sent", BROKEN)
def test_a_greeting_that_is_none_ends_that_connection_only(camera: Served, sent: bytes) -> None:
    with connected(camera.port) as end:
        end.sendall(sent)
        no_more(end)
        assert ended(end)
    with Client(camera.port) as client:
        assert client.ask(0x1004).code == OK


@pytest.mark.parametrize("sent", BROKEN[:7] + BROKEN[8:])
def test_what_is_no_operation_ends_that_client_only(camera: Served, sent: bytes) -> None:
    with Client(camera.port) as client:
        client.end.sendall(sent)
        no_more(client.end)
        assert ended(client.end)
    with Client(camera.port) as client:
        assert client.ask(0x1004).code == OK


@pytest.mark.parametrize("dialect", ["eos", "eos-old", "nikon", "plain"])
def test_whatever_is_asked_is_answered(tmp_path: Path, dialect: Dialect, capfd: pytest.CaptureFixture[str]) -> None:
    draw = random.Random(20261003)
    codes = [*range(0x1001, 0x101C), *range(0x9101, 0x912A), *range(0x90C0, 0x90CA), 0x9207, 0x920C]
    odd = [0, 1, 2, 3, 0xFFFF_FFFF, 0x10001, 0x1000_0001, 0x500D, 0xD102, 0x2000_0010]
    with served(tmp_path, dialect) as camera, Client(camera.port) as client:
        for _ in range(400):
            code = draw.choice([code for code in codes if code != 0x1003])
            parameters = [draw.choice(odd) for _ in range(draw.randrange(6))]
            data = draw.choice([None, draw.randbytes(draw.randrange(40)), struct.pack("<III", 12, draw.choice(odd), 3)])
            assert 0x2001 <= client.ask(code, *parameters, data=data).code < 0xC000
    assert capfd.readouterr().err == ""
