"""A real body, as its USB traffic was recorded: what it answered to each operation, answered again.

Two kinds of recordings are read: umockdev's own, of every transfer, and the debug log of the camera library, which has
them in hexadecimal. They carry their owners' serial numbers and are read where they are; none is in this repository.
"""

from __future__ import annotations

import contextlib
import re
import struct
import threading
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.usb.bus import Bus, Named, Plugged
from tests.usb.still_image import COMMAND, DATA, RESET, RESPONSE, Pipes, answer_of
from tether.body.responder.codes import Op, Response
from tether.body.responder.packets import Request

#: Where `make prove` puts what it fetched, and where others may be put by hand.
FOLDER = Path(__file__).parents[2] / ".cache" / "recordings"
_HEAD = struct.Struct("<IHHI")
_HEX_LINE = re.compile(r"^[0-9a-f]{4}  ((?:[0-9a-f]{2}[ -]?)+)", re.MULTILINE)
_SENT = re.compile(r"(Writing|Reading) \d+=0x[0-9a-f]+ bytes? (?:to|from) port", re.IGNORECASE)
_PARTIAL_OBJECT = 0x101B

Asked = tuple[int, tuple[int, ...]]


@dataclass(frozen=True)
class Answer:
    """What was answered: data (None: there were none), the response, and its parameters."""

    data: bytes | None
    code: int
    parameters: tuple[int, ...]


def transfers_of_umockdev(text: str) -> Iterator[tuple[bool, bytes]]:
    """Give every bulk transfer of umockdev's recording, in order: whether it went to the body, and its bytes."""
    for line in text.splitlines():
        fields = line.split()
        if fields[0].startswith("USBDEVFS_REAPURB") and fields[2] == "3":
            data = bytes.fromhex(fields[-1]) if int(fields[7]) else b""
            yield fields[3] == "2", data


def transfers_of_log(text: str) -> Iterator[tuple[bool, bytes]]:
    """Give every transfer of a debug log of the camera library, in order, as above."""
    begun = list(_SENT.finditer(text))
    for one, after in zip(begun, [*begun[1:], None], strict=True):
        lines = _HEX_LINE.findall(text, one.end(), after.start() if after else len(text))
        yield one[1] == "Writing", bytes.fromhex("".join(lines).replace("-", " "))


def answers(transfers: Iterator[tuple[bool, bytes]]) -> dict[Asked, list[Answer]]:
    """Return what was answered to each operation with its parameters, in the order in which it was asked."""
    table: dict[Asked, list[Answer]] = defaultdict(list)
    asked: Asked | None = None
    data, parts = None, b""
    for towards, sent in transfers:
        if towards:
            if len(sent) >= _HEAD.size and _HEAD.unpack_from(sent)[1] == COMMAND:
                asked, data, parts = (_HEAD.unpack_from(sent)[2], _parameters(sent)), None, b""
            continue
        parts += sent
        if asked is None or len(parts) < _HEAD.size or len(parts) < int.from_bytes(parts[:4], "little"):
            continue
        _, kind, code, _ = _HEAD.unpack_from(parts)
        if kind == DATA:
            data = parts[_HEAD.size :]
        elif kind == RESPONSE:
            table[asked].append(Answer(data, code, _parameters(parts)))
            asked = None
        parts = b""
    return table


def _parameters(container: bytes) -> tuple[int, ...]:
    rest = container[_HEAD.size :]
    return struct.unpack(f"<{len(rest) // 4}I", rest[: len(rest) // 4 * 4])


class RecordedCamera:
    """A body that answers as it was recorded, from the beginning in each session.

    What is asked more often than then is answered as at the last time.
    """

    def __init__(self, table: dict[Asked, list[Answer]]) -> None:
        self._recorded = table
        self._table = dict(table)
        self._pipes: Pipes | None = None
        self._plugged: Plugged | None = None
        #: What was asked and is not in the recording.
        self.unknown: list[Asked] = []

    def plug(self, bus: Bus, named: Named) -> Plugged:
        """Plug it in."""
        self._plugged = bus.plug(named, self)
        self.reset()
        return self._plugged

    def came(self, data: bytes) -> None:
        if self._pipes:
            self._pipes.came(data)

    def controlled(self, setup: bytes) -> bytes:
        if setup[1] == RESET and not setup[0] & 0x80:
            self.reset()
        return answer_of(setup)

    def reset(self) -> None:
        if self._pipes:
            self._pipes.drop()
        if self._plugged:
            self._plugged.node.forget()
            self._pipes = pipes = Pipes(self._plugged.node)
            threading.Thread(target=self._serve, args=(pipes,), daemon=True).start()

    def _serve(self, pipes: Pipes) -> None:
        with contextlib.suppress(EOFError):
            while True:
                request = pipes.request()
                answer = self._answer(request)
                if answer.data is not None:
                    pipes.data(request.transaction, answer.data)
                pipes.response(request.transaction, answer.code, answer.parameters)

    def _answer(self, request: Request) -> Answer:
        asked = request.code, request.parameters
        if request.code in (Op.OPEN_SESSION, Op.CLOSE_SESSION):
            self._table = {one: list(given) for one, given in self._recorded.items()}
            return Answer(None, int(Response.OK), ())
        if given := self._table.get(asked):
            return given.pop(0) if len(given) > 1 else given[0]
        if request.code == _PARTIAL_OBJECT and (part := self._part(*request.parameters)) is not None:
            return Answer(part, int(Response.OK), (len(part),))
        self.unknown.append(asked)
        return Answer(None, int(Response.OPERATION_NOT_SUPPORTED), ())

    def _part(self, handle: int, offset: int, size: int) -> bytes | None:
        """Return a part of a file that was fetched as a whole, as a newer library asks for it."""
        whole = self._table.get((int(Op.GET_OBJECT), (handle,)))
        return whole[0].data[offset : offset + size] if whole and whole[0].data else None
