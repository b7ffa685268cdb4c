"""The line between the run process and the camera process: length-limited JSON lines over a socket.

Records of the body's protocol cross by name; every sequence arrives as a tuple. A message is a JSON object:

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
from pathlib import Path
from typing import Any

from tether.body import protocol
from tether.body.stamps import Stamps
from tether.errors import TetherError, error_of

#: Longest line either side accepts [bytes]: the list of a card with some ten thousand frames fits.
LONGEST_LINE = 4 * 1024 * 1024
_CHUNK = 64 * 1024

Message = dict[str, Any]

#: What crosses by name: every record of the protocol, and the stamps.
_RECORDS: dict[str, Callable[..., Any]] = {
    record.__name__: record
    for record in (*vars(protocol).values(), Stamps)
    if isinstance(record, type) and dataclasses.is_dataclass(record)
}


class GarbledError(Exception):
    """A line that is no message of ours; the text says in a few words what is wrong with it."""


def pack(value: Any) -> Any:
    """Turn a record, a path, or a sequence of them, into JSON data."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = {field.name: pack(getattr(value, field.name)) for field in dataclasses.fields(value)}
        return {"is": type(value).__name__, **fields}
    if isinstance(value, Path):
        return {"is": "Path", "text": str(value.absolute())}
    if isinstance(value, (tuple, list)):
        return [pack(one) for one in value]
    return value


def unpack(data: Any) -> Any:
    """Turn JSON data back into records, paths and tuples. Raises GarbledError."""
    if isinstance(data, list):
        return tuple(unpack(one) for one in data)
    if not (isinstance(data, dict) and "is" in data):
        return data
    fields = {key: unpack(value) for key, value in data.items() if key != "is"}
    try:
        return Path(fields["text"]) if data["is"] == "Path" else _RECORDS[data["is"]](**fields)
    except (KeyError, TypeError) as wrong:
        raise GarbledError(f"no record of the kind {data['is']!r} with these fields") from wrong


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
