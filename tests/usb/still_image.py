"""The protocol over USB: containers on three pipes, and requests to the device itself (USB still image class, 1.0)."""

from __future__ import annotations

import queue
import struct
import time

from tests.usb.node import Node
from tether.body.responder.codes import Op
from tether.body.responder.packets import Request

COMMAND, DATA, RESPONSE, EVENT = 1, 2, 3, 4
_HEAD = struct.Struct("<IHHI")
#: Operations with which data come: that they do is not said on USB.
_WITH_DATA = (Op.SET_PROPERTY_VALUE, Op.EOS_SET_PROPERTY, 0x100C, 0x100D)
CANCEL, RESET, STATUS = 0x64, 0x66, 0x67
_READY = struct.pack("<HH", 4, 0x2001)


class Pipes:
    """The end of a :class:`~tether.body.responder.session.Session` behind a node."""

    def __init__(self, node: Node) -> None:
        self._node = node
        self._requests: queue.SimpleQueue[Request | None] = queue.SimpleQueue()
        self._parts = bytearray()
        self._command: Request | None = None
        self._code = 0

    def came(self, data: bytes) -> None:
        """Take what the program sent; containers may come in several pieces."""
        if data and not self._parts:
            self._at_ns = time.monotonic_ns()
        self._parts += data
        while len(self._parts) >= _HEAD.size and len(self._parts) >= (
            size := int.from_bytes(self._parts[:4], "little")
        ):
            container, self._parts = bytes(self._parts[:size]), self._parts[size:]
            self._container(container)

    def _container(self, container: bytes) -> None:
        _, kind, code, transaction = _HEAD.unpack_from(container)
        payload = container[_HEAD.size :]
        if kind == COMMAND:
            parameters = struct.unpack(f"<{len(payload) // 4}I", payload)
            command = Request(code=code, transaction=transaction, parameters=parameters, data=b"", at_ns=self._at_ns)
            if code in _WITH_DATA:
                self._command = command
            else:
                self._requests.put(command)
        elif kind == DATA and (begun := self._command):
            self._command = None
            self._requests.put(
                Request(
                    code=code, transaction=transaction, parameters=begun.parameters, data=payload, at_ns=begun.at_ns
                )
            )

    # What a session asks of its end

    def request(self) -> Request:
        request = self._requests.get()
        if request is None:
            raise EOFError
        self._code = request.code
        return request

    def data(self, transaction: int, data: bytes) -> None:
        self._node.send(_HEAD.pack(_HEAD.size + len(data), DATA, self._code, transaction) + data)

    def response(self, transaction: int, code: int, parameters: tuple[int, ...]) -> None:
        self._node.send(_container(RESPONSE, code, transaction, parameters))

    def event(self, code: int, parameters: tuple[int, ...]) -> None:
        self._node.interrupt(_container(EVENT, code, 0xFFFF_FFFF, parameters))

    def drop(self) -> None:
        self._requests.put(None)


def _container(kind: int, code: int, transaction: int, parameters: tuple[int, ...]) -> bytes:
    size = _HEAD.size + 4 * len(parameters)
    return _HEAD.pack(size, kind, code, transaction) + struct.pack(f"<{len(parameters)}I", *parameters)


def answer_of(setup: bytes) -> bytes:
    """Return what is answered to a request to the device itself."""
    asked, length = setup[1], int.from_bytes(setup[6:8], "little")
    if not setup[0] & 0x80:
        return b""
    return (_READY if asked == STATUS else bytes(length))[:length]
