"""A tiny client of the protocol for tests, with framing of its own: numbers are those of ISO 15740 and CIPA DC-005."""

from __future__ import annotations

import contextlib
import socket
import struct
import time
from collections.abc import Iterator
from dataclasses import dataclass

OK = 0x2001
WITHIN_S = 5.0


@dataclass(frozen=True)
class Answer:
    """What came back: the response, its parameters, and the data (None: there were none)."""

    code: int
    parameters: tuple[int, ...]
    data: bytes | None


def connected(port: int) -> socket.socket:
    """Return a bare connection."""
    end = socket.create_connection(("127.0.0.1", port), timeout=WITHIN_S)
    end.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return end


def packet(kind: int, payload: bytes = b"") -> bytes:
    """Return a packet as bytes."""
    return struct.pack("<II", 8 + len(payload), kind) + payload


def hello() -> bytes:
    """Return the packet by which a client introduces itself."""
    return packet(1, bytes(16) + "test".encode("utf-16-le") + b"\0\0" + struct.pack("<I", 0x10000))


def received(end: socket.socket) -> tuple[int, bytes]:
    """Return the next packet's type and payload. Raises EOFError at the end, ConnectionResetError at a reset."""
    length, kind = struct.unpack("<II", _exactly(end, 8))
    return kind, _exactly(end, length - 8)


def _exactly(end: socket.socket, size: int) -> bytes:
    parts = b""
    while len(parts) < size:
        part = end.recv(size - len(parts))
        if not part:
            raise EOFError
        parts += part
    return parts


class Client:
    """A client with a session open, unless told otherwise."""

    def __init__(self, port: int, *, opens: bool = True) -> None:
        self._ends = contextlib.ExitStack()
        self._transaction = 0
        with contextlib.ExitStack() as made:
            self.end = made.enter_context(connected(port))
            self.end.sendall(hello())
            kind, payload = received(self.end)
            if kind != 2:
                raise ConnectionRefusedError(kind)
            self.number = int.from_bytes(payload[:4], "little")
            self.event_end = made.enter_context(connected(port))
            self.event_end.sendall(packet(3, payload[:4]))
            if received(self.event_end)[0] != 4:
                raise ConnectionRefusedError
            self._ends = made.pop_all()
        if opens:
            assert self.ask(0x1002, 1).code == OK

    def __enter__(self) -> Client:
        return self

    def __exit__(self, *_: object) -> None:
        self._ends.close()

    def ask(self, code: int, *parameters: int, data: bytes | None = None) -> Answer:
        """Have an operation done, and return its answer."""
        self.send(code, *parameters, data=data)
        return self.answer()

    def send(self, code: int, *parameters: int, data: bytes | None = None) -> None:
        """Send an operation."""
        self._transaction += 1
        phase = 1 if data is None else 2
        head = struct.pack(f"<IHI{len(parameters)}I", phase, code, self._transaction, *parameters)
        self.end.sendall(packet(6, head))
        if data is not None:
            mark = struct.pack("<I", self._transaction)
            self.end.sendall(packet(9, mark + struct.pack("<Q", len(data))) + packet(12, mark + data))

    def answer(self) -> Answer:
        """Wait for the answer to what was sent."""
        data: bytes | None = None
        while True:
            kind, payload = received(self.end)
            if kind == 9:
                data = b""
            elif kind in (10, 12):
                data = (data or b"") + payload[4:]
            else:
                assert kind == 7
                code, _ = struct.unpack_from("<HI", payload)
                return Answer(code, struct.unpack_from(f"<{(len(payload) - 6) // 4}I", payload, 6), data)

    def event(self, within_s: float = WITHIN_S) -> tuple[int, int] | None:
        """Return the next event's code and parameter; None where none comes in time."""
        self.event_end.settimeout(within_s)
        try:
            kind, payload = received(self.event_end)
        except TimeoutError:
            return None
        assert kind == 8
        return struct.unpack_from("<H4xI", payload)

    # The EOS dialect

    def begin_queue(self) -> list[tuple[int, bytes]]:
        """Go into remote and event mode, and return the records of all there is to tell."""
        assert self.ask(0x9114, 1).code == self.ask(0x9115, 1).code == OK
        return self.records()

    def records(self) -> list[tuple[int, bytes]]:
        """Ask for the records of the queue: (code, what it says)."""
        data = self.ask(0x9116).data
        assert data is not None
        return list(records_in(data))

    def record(self, code: int, within_s: float = WITHIN_S) -> bytes:
        """Ask for records until one of a kind comes, and return what it says."""
        until_s = time.monotonic() + within_s
        while time.monotonic() < until_s:
            for kind, body in self.records():
                if kind == code:
                    return body
        raise AssertionError(f"no record {code:#x}")

    def set_eos(self, code: int, value: int) -> int:
        """Set a property, and return the response."""
        return self.ask(0x9110, data=struct.pack("<III", 12, code, value)).code

    # The Nikon dialect

    def nikon_events(self, until: int, within_s: float = WITHIN_S) -> list[tuple[int, int]]:
        """Ask for events until one of a code has come, and return all."""
        until_s, events = time.monotonic() + within_s, list[tuple[int, int]]()
        while time.monotonic() < until_s:
            data = self.ask(0x90C7).data
            assert data is not None
            events += list(struct.iter_unpack("<HI", data[2:]))
            if any(code == until for code, _ in events):
                return events
        raise AssertionError(f"no event {until:#x}")


def records_in(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Return the records of a block, which must end as blocks do."""
    place = 0
    while True:
        length, code = struct.unpack_from("<II", data, place)
        if (length, code) == (8, 0):
            assert place + 8 == len(data)
            return
        yield code, data[place + 8 : place + length]
        place += length
