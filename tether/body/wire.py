"""The line between the run process and the camera process: length-limited JSON lines over a socket.

Records of the body's protocol, and what a camera process is started with, cross by name; every sequence arrives as a
tuple. A message is a JSON object:

- a request ``{"id": 7, "ask": "apply", "with": [...]}``; without ``id`` it wants no answer;
- its answer ``{"id": 7, "answer": ...}`` or ``{"id": 7, "error": {"kind": "camera", "sentences": [...]}}``;
- an event ``{"event": ...}``.
"""

from __future__ import annotations

import contextlib
import dataclasses
import json
import select
import socket
import time
from collections.abc import Callable
from datetime import datetime
from importlib import import_module
from pathlib import Path
from typing import Any

from tether.body import protocol
from tether.body.driver import profile
from tether.body.open import BodyChoice
from tether.body.stamps import Stamps
from tether.clock import AffineClock
from tether.errors import TetherError, error_of
from tether.exposure.abilities import Abilities
from tether.exposure.marks import Mark

#: Longest line either side accepts [bytes]: the list of a card with some ten thousand frames fits.
LONGEST_LINE = 4 * 1024 * 1024
_CHUNK = 64 * 1024

Message = dict[str, Any]

#: What crosses by name: all records of these modules, and these beside.
_RECORDS: dict[str, Callable[..., Any]] = {
    record.__name__: record
    for record in (
        *vars(protocol).values(),
        *vars(profile).values(),
        Stamps,
        BodyChoice,
        Abilities,
        Mark,
        AffineClock,
    )
    if isinstance(record, type) and dataclasses.is_dataclass(record)
}
#: What else crosses by name: where it stands, since a camera process may not need it, nor the checker that it needs.
_ELSEWHERE = {
    "World": "tether.body.simulated.world",
    "WireHow": "tether.body.responder.start",
    "WireStart": "tether.body.responder.start",
}


class GarbledError(Exception):
    """A line that is no message of ours; the text says in a few words what is wrong with it."""


def pack(value: Any) -> Any:
    """Turn a record, a path, a moment, a table, or a sequence of them, into JSON data."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = {field.name: pack(getattr(value, field.name)) for field in dataclasses.fields(value)}
        return {"is": type(value).__name__, **fields}
    match value:
        case Path():
            return {"is": "Path", "of": str(value.absolute())}
        case datetime():
            return {"is": "datetime", "of": value.isoformat()}
        case dict():
            return {"is": "dict", "of": {key: pack(one) for key, one in value.items()}}
        case tuple() | list():
            return [pack(one) for one in value]
    return {"is": type(value).__name__, "of": value.model_dump(mode="json")} if hasattr(value, "model_dump") else value


def unpack(data: Any) -> Any:
    """Turn what :func:`pack` made back; sequences become tuples. Raises GarbledError."""
    if isinstance(data, list):
        return tuple(unpack(one) for one in data)
    if not (isinstance(data, dict) and "is" in data):
        return data
    try:
        return _unpacked(**data)
    except (KeyError, TypeError, ValueError) as wrong:
        raise GarbledError(f"no record of the kind {data['is']!r} with these fields") from wrong


def _unpacked(**data: Any) -> Any:
    match data:
        case {"is": "Path", "of": str() as text}:
            return Path(text)
        case {"is": "datetime", "of": str() as text}:
            return datetime.fromisoformat(text)
        case {"is": "dict", "of": dict() as table}:
            return {key: unpack(one) for key, one in table.items()}
    name = data.pop("is")
    kind: Any = _RECORDS.get(name) or getattr(import_module(_ELSEWHERE[name]), name)
    if "of" in data:
        return kind.model_validate(data["of"])
    return kind(**{key: unpack(one) for key, one in data.items()})


def packed_error(error: TetherError) -> Message:
    """Turn an error into JSON data: its kind and its sentences."""
    return {"kind": error.kind, "sentences": list(error.sentences)}


def unpacked_error(data: Any) -> TetherError:
    """Rebuild an error that crossed the line. Raises GarbledError."""
    try:
        return error_of(data["kind"], data["sentences"])
    except (KeyError, TypeError) as wrong:
        raise GarbledError("an error without kind and sentences") from wrong


class Wire:
    """One end of the line.

    One thread may receive while another sends, no more than one each.

    Parameters
    ----------
    end
        A connected stream socket, in blocking mode; closed by :meth:`close`.
    """

    def __init__(self, end: socket.socket) -> None:
        self._end = end
        self._heard = bytearray()

    def send(self, message: Message) -> None:
        """Send one message. Raises OSError when the other side is gone."""
        self._end.sendall(json.dumps(message, separators=(",", ":")).encode() + b"\n")

    def receive(self) -> Message:
        """Wait for the next message and return it.

        Raises EOFError when the other side is gone, GarbledError for a line that is no message (the next may be).
        """
        while (line := self._line()) is None:
            self._read()
        return _message(line)

    def receive_within(self, within_s: float) -> Message | None:
        """Return the next message, or None when none came within `within_s` real seconds; raises as :meth:`receive`."""
        until_s = time.monotonic() + within_s
        while (line := self._line()) is None:
            left_s = max(until_s - time.monotonic(), 0.0)
            if not select.select([self._end], [], [], left_s)[0]:
                return None
            self._read()
        return _message(line)

    def _read(self) -> None:
        try:
            chunk = self._end.recv(_CHUNK)
        except ConnectionError:
            chunk = b""
        if not chunk:
            raise EOFError
        self._heard += chunk

    def _line(self) -> bytes | None:
        line, newline, rest = self._heard.partition(b"\n")
        if newline:
            self._heard = rest
            return bytes(line)
        if len(self._heard) > LONGEST_LINE:
            self._heard.clear()
            raise GarbledError(f"a line of more than {LONGEST_LINE} bytes")
        return None

    def stop_hearing(self) -> None:
        """Make the receiving thread see the end of the line; harmless when it has. For a signal handler."""
        with contextlib.suppress(OSError):
            self._end.shutdown(socket.SHUT_RD)

    def close(self) -> None:
        """Close this end; harmless when it is closed."""
        self._end.close()


def _message(line: bytes) -> Message:
    try:
        message = json.loads(line)
    except ValueError as wrong:
        raise GarbledError("a line that is not JSON") from wrong
    if not isinstance(message, dict):
        raise GarbledError("a line that is not a JSON object")
    return message
