"""Framing: what is a packet, and what is none."""

from __future__ import annotations

import socket
import struct
import time
from collections.abc import Iterator

import pytest

from tests.body.responder.client import packet
from tether.body.responder.packets import (
    LONGEST,
    BrokenError,
    greeting,
    receive,
    receive_request,
    send_data,
    send_event,
    send_response,
)

COMMAND = struct.pack("<IHI2I", 1, 0x1007, 5, 7, 8)
WITH_DATA = struct.pack("<IHI", 2, 0x1016, 5)


@pytest.fixture
def ends() -> Iterator[tuple[socket.socket, socket.socket]]:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        ours = socket.create_connection(listener.getsockname())
        theirs, _ = listener.accept()
        with ours, theirs:
            yield ours, theirs


def start_data(total: int) -> bytes:
    return packet(9, struct.pack("<IQ", 5, total))


def data(part: bytes, *, transaction: int = 5, kind: int = 12) -> bytes:
    return packet(kind, struct.pack("<I", transaction) + part)


def test_an_operation_comes_with_its_parameters_and_the_moment_it_had_arrived(
    ends: tuple[socket.socket, socket.socket],
) -> None:
    before_ns = time.monotonic_ns()
    ends[0].sendall(packet(6, COMMAND))
    request = receive_request(ends[1])
    assert (request.code, request.transaction, request.parameters, request.data) == (0x1007, 5, (7, 8), b"")
    assert request.parameter(1) == 8
    assert request.parameter(4) == 0
    assert before_ns <= request.at_ns <= time.monotonic_ns()


def test_data_come_in_pieces(ends: tuple[socket.socket, socket.socket]) -> None:
    ends[0].sendall(packet(6, WITH_DATA) + start_data(5) + data(b"ab", kind=10) + data(b"cde"))
    assert receive_request(ends[1]).data == b"abcde"


def test_a_ping_is_answered_and_a_cancel_passed_over(ends: tuple[socket.socket, socket.socket]) -> None:
    ends[0].sendall(packet(13) + packet(11, bytes(4)) + packet(6, COMMAND))
    assert receive_request(ends[1]).code == 0x1007
    assert ends[0].recv(100) == packet(14)


@pytest.mark.parametrize(
    "wrong",
    [
        struct.pack("<II", 7, 6),
        struct.pack("<II", LONGEST + 1, 6),
        struct.pack("<II", 0xFFFF_FFFF, 0xFFFF_FFFF),
        packet(7, COMMAND),
        packet(99),
        packet(6, COMMAND[:9]),
        packet(6, COMMAND + bytes(100)),
        packet(6, WITH_DATA) + packet(6, COMMAND),
        packet(6, WITH_DATA) + packet(9, b"123"),
        packet(6, WITH_DATA) + start_data(LONGEST + 1),
        packet(6, WITH_DATA) + start_data(3) + data(b"abcd"),
        packet(6, WITH_DATA) + start_data(3) + data(b"abc", transaction=6),
        packet(6, WITH_DATA) + start_data(3) + packet(12, b"1"),
        packet(6, WITH_DATA) + start_data(3) + packet(8, b"12345678"),
        packet(6, WITH_DATA) + start_data(3) + data(b"ab"),
    ],
)
def test_what_is_no_packet_is_broken(ends: tuple[socket.socket, socket.socket], wrong: bytes) -> None:
    ends[0].sendall(wrong)
    with pytest.raises(BrokenError):
        receive_request(ends[1])


def test_an_end_in_the_middle_is_an_end(ends: tuple[socket.socket, socket.socket]) -> None:
    ends[0].sendall(packet(6, COMMAND)[:-3])
    ends[0].close()
    with pytest.raises(EOFError):
        receive(ends[1])


def test_data_go_out_as_a_start_pieces_and_an_end(ends: tuple[socket.socket, socket.socket]) -> None:
    sent = bytes(range(256)) * 2100
    send_data(ends[1], 9, sent)
    ends[1].close()
    kinds, got = [], b""
    while True:
        try:
            one = receive(ends[0])
        except EOFError:
            break
        kinds.append(one.kind)
        if one.kind == 9:
            assert one.payload == struct.pack("<IQ", 9, len(sent))
        else:
            assert one.payload[:4] == struct.pack("<I", 9)
            got += one.payload[4:]
    assert kinds == [9, 10, 10, 12]
    assert got == sent


def test_no_data_are_a_start_and_an_empty_end(ends: tuple[socket.socket, socket.socket]) -> None:
    send_data(ends[1], 9, b"")
    assert [receive(ends[0]).kind, receive(ends[0]).payload] == [9, struct.pack("<I", 9)]


def test_a_response_and_an_event_carry_their_parameters(ends: tuple[socket.socket, socket.socket]) -> None:
    send_response(ends[1], 3, 0x2001, (4, 5))
    send_event(ends[1], 0x4002, (6,))
    assert receive(ends[0]).payload == struct.pack("<HI2I", 0x2001, 3, 4, 5)
    assert receive(ends[0]).payload == struct.pack("<HII", 0x4002, 0xFFFF_FFFF, 6)


def test_the_greeting_has_number_identity_name_and_version() -> None:
    told = greeting(7, "Câmera")
    assert told[:8] == struct.pack("<II", len(told), 2)
    assert told[8:12] == struct.pack("<I", 7)
    assert len(told[12:28].rstrip(b"\0")) > 0
    assert told[28:-6].decode("utf-16-le") == "Câmera"
    assert told[-6:] == b"\0\0" + struct.pack("<I", 0x10000)
