"""Packets of the protocol over TCP: a length, a type, and what the type says (CIPA DC-005). Numbers little endian."""

from __future__ import annotations

import socket
import struct
import time
from dataclasses import dataclass

INIT_COMMAND, INIT_COMMAND_ACK = 1, 2
INIT_EVENT, INIT_EVENT_ACK, INIT_FAIL = 3, 4, 5
COMMAND, RESPONSE, EVENT = 6, 7, 8
START_DATA, DATA, CANCEL, END_DATA = 9, 10, 11, 12
PING, PONG = 13, 14

VERSION = 0x0001_0000
#: What a client introduces itself with is at least its identity, an empty name, and the version [bytes].
SHORTEST_GREETING = 16 + 2 + 4
#: Longest packet that is accepted, and longest data of one operation [bytes].
LONGEST = 1 << 20
#: Data are sent in packets of this size [bytes].
CHUNK = 256 * 1024
_HEADER = struct.Struct("<II")
_MOST_PARAMETERS = 5


class BrokenError(Exception):
    """What came is no packet of the protocol, or not the one that must come now; the text says what is wrong."""


@dataclass(frozen=True, kw_only=True)
class Packet:
    """One packet: its type, what follows the header, and when it had arrived [ns of the monotonic clock]."""

    kind: int
    payload: bytes
    at_ns: int


@dataclass(frozen=True, kw_only=True)
class Request:
    """One operation that is asked for, with the data that came with it and the moment its command had arrived."""

    code: int
    transaction: int
    parameters: tuple[int, ...]
    data: bytes
    at_ns: int

    def parameter(self, place: int) -> int:
        """Return a parameter; one that was left out is 0."""
        return self.parameters[place] if place < len(self.parameters) else 0


def receive(end: socket.socket) -> Packet:
    """Wait for a packet. Raises EOFError at the end of the connection, BrokenError for what is no packet."""
    length, kind = _HEADER.unpack(_exactly(end, _HEADER.size))
    if not _HEADER.size <= length <= LONGEST:
        raise BrokenError(f"a packet of {length} bytes")
    payload = _exactly(end, length - _HEADER.size)
    return Packet(kind=kind, payload=payload, at_ns=time.monotonic_ns())


def _exactly(end: socket.socket, size: int) -> bytes:
    parts = bytearray()
    while len(parts) < size:
        try:
            part = end.recv(size - len(parts))
            # So that a command is not kept back until what came before it was acknowledged.
            end.setsockopt(socket.IPPROTO_TCP, socket.TCP_QUICKACK, 1)
        except OSError as error:
            raise EOFError from error
        if not part:
            raise EOFError
        parts += part
    return bytes(parts)


def packed(kind: int, payload: bytes = b"") -> bytes:
    """Return a packet as bytes."""
    return _HEADER.pack(_HEADER.size + len(payload), kind) + payload


def receive_request(end: socket.socket) -> Request:
    """Wait for an operation and all its data. Raises EOFError and BrokenError."""
    packet = receive(end)
    while packet.kind in (PING, CANCEL):
        if packet.kind == PING:
            end.sendall(packed(PONG))
        packet = receive(end)
    if packet.kind != COMMAND or not 10 <= len(packet.payload) <= 10 + 4 * _MOST_PARAMETERS:
        raise BrokenError(f"a packet of type {packet.kind} where an operation was due")
    phase, code, transaction = struct.unpack_from("<IHI", packet.payload)
    count = (len(packet.payload) - 10) // 4
    parameters = struct.unpack_from(f"<{count}I", packet.payload, 10)
    data = _receive_data(end, transaction) if phase == 2 else b""
    return Request(code=code, transaction=transaction, parameters=parameters, data=data, at_ns=packet.at_ns)


def _receive_data(end: socket.socket, transaction: int) -> bytes:
    start = receive(end)
    if start.kind != START_DATA or len(start.payload) < 8:
        raise BrokenError("an operation whose data do not begin")
    (total,) = struct.unpack_from("<I", start.payload, 4)
    if total > LONGEST:
        raise BrokenError(f"data of {total} bytes")
    data = bytearray()
    while True:
        packet = receive(end)
        if packet.kind not in (DATA, END_DATA) or len(packet.payload) < 4:
            raise BrokenError(f"a packet of type {packet.kind} among data")
        if struct.unpack_from("<I", packet.payload)[0] != transaction:
            raise BrokenError("data of another operation")
        data += packet.payload[4:]
        if len(data) > total:
            raise BrokenError("more data than were announced")
        if packet.kind == END_DATA:
            if len(data) < total:
                raise BrokenError("less data than were announced")
            return bytes(data)


def send_data(end: socket.socket, transaction: int, data: bytes) -> None:
    """Send the data of an operation. Raises OSError."""
    mark = struct.pack("<I", transaction)
    end.sendall(packed(START_DATA, mark + struct.pack("<Q", len(data))))
    for start in range(0, max(len(data) - CHUNK, 0), CHUNK):
        end.sendall(packed(DATA, mark + data[start : start + CHUNK]))
    end.sendall(packed(END_DATA, mark + data[max((len(data) - 1) // CHUNK, 0) * CHUNK :]))


def send_response(end: socket.socket, transaction: int, code: int, parameters: tuple[int, ...] = ()) -> None:
    """Send the response that ends an operation. Raises OSError."""
    end.sendall(packed(RESPONSE, struct.pack(f"<HI{len(parameters)}I", code, transaction, *parameters)))


def send_event(end: socket.socket, code: int, parameters: tuple[int, ...]) -> None:
    """Send an event. Raises OSError."""
    end.sendall(packed(EVENT, struct.pack(f"<HI{len(parameters)}I", code, 0xFFFF_FFFF, *parameters)))


def greeting(number: int, name: str) -> bytes:
    """Return the packet that accepts a command connection."""
    text = name.encode("utf-16-le") + b"\0\0"
    return packed(
        INIT_COMMAND_ACK, struct.pack("<I16s", number, b"tether simulated") + text + struct.pack("<I", VERSION)
    )
