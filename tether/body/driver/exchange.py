"""What camera library and body said to one another, put together again from the library's own log.

At its most talkative the log has every transfer in hexadecimal. From that come the operations of the protocol (ISO
15740) as the body got them, each with what it answered, and what the body told unasked.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

#: Kinds of containers, and the length of their head (USB still image class, 1.0, D.1).
COMMAND, DATA, RESPONSE, EVENT = 1, 2, 3, 4
HEAD = struct.Struct("<IHHI")
#: The library's level of a line that has data (gphoto2-port-log.h).
DATA_LEVEL = 3
_TRANSFER = re.compile(r"(Wrote|Read)\s+\d+ = 0x[0-9a-f]+ (?:out of \d+ )?bytes (?:to|from) (port|interrupt)")
_HEX_LINE = re.compile(r"^[0-9a-f]{4,}  ((?:[0-9a-f]{2}[ -]?)+)", re.MULTILINE)
_SENDING = re.compile(r"Sending PTP_OC 0x([0-9a-f]+) \([^)]*\)(?: \(([0-9a-fx,]*)\))? request\.\.\.")


@dataclass(frozen=True, kw_only=True)
class Line:
    """A line of the library's log.

    Attributes
    ----------
    at_s
        When it was written, since the recording began [s].
    level
        How talkative the library had to be for it: 0 errors, 3 data.
    source
        The part of the library that wrote it.
    text
        What it says; behind its first line the data, in hexadecimal.
    resting
        Whether data were left out then.
    """

    at_s: float
    level: int
    source: str
    text: str
    resting: bool = False


@dataclass(frozen=True, kw_only=True)
class Operation:
    """One operation and its answer.

    Attributes
    ----------
    at_s, took_s
        When it was sent, since the recording began, and until it was answered [s]; None: not heard.
    code, parameters
        Which it was.
    sent, got
        Data that went to the body and came from it; None: there were none, or they were left out.
    response, returned
        The response and its parameters; None: it was not heard.
    """

    at_s: float
    code: int
    parameters: tuple[int, ...] = ()
    took_s: float | None = None
    sent: bytes | None = None
    got: bytes | None = None
    response: int | None = None
    returned: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Unasked:
    """An event that the body told unasked: when, since the recording began [s], which, and its parameters."""

    at_s: float
    code: int
    parameters: tuple[int, ...]


Said = Operation | Unasked


@dataclass
class _Reader:
    """Puts containers together: those to the body and those from it."""

    asked: Operation | None = None
    towards: bytearray = field(default_factory=bytearray)
    back: bytearray = field(default_factory=bytearray)

    def wrote(self, at_s: float, data: bytes) -> Iterator[Said]:
        self.towards += data
        while container := _taken(self.towards):
            kind, code, rest = container
            if kind == COMMAND:
                yield from self.unanswered()
                self.asked = Operation(at_s=at_s, code=code, parameters=_words(rest))
            elif kind == DATA and self.asked:
                self.asked = replace(self.asked, sent=rest)

    def read(self, at_s: float, data: bytes) -> Iterator[Said]:
        self.back += data
        while container := _taken(self.back):
            kind, code, rest = container
            if self.asked and kind == DATA:
                self.asked = replace(self.asked, got=rest)
            elif self.asked and kind == RESPONSE:
                took_s = at_s - self.asked.at_s
                yield replace(self.asked, took_s=took_s, response=code, returned=_words(rest))
                self.asked = None

    def unanswered(self) -> Iterator[Said]:
        """Give the operation whose answer never came, where there is one."""
        if self.asked:
            yield self.asked
            self.asked = None
        self.back.clear()


def exchange_of(lines: Iterable[Line]) -> Iterator[Said]:
    """Give what was said, in order, as far as the lines tell. Where data were left out, operations have no answers."""
    reader = _Reader()
    for line in lines:
        if line.level != DATA_LEVEL:
            if line.resting and (sent := _SENDING.match(line.text)):
                yield from reader.unanswered()
                yield Operation(at_s=line.at_s, code=int(sent[1], 16), parameters=_numbers(sent[2]))
        elif transfer := _TRANSFER.match(line.text):
            data = bytes.fromhex("".join(_HEX_LINE.findall(line.text)).replace("-", " "))
            if transfer[2] == "interrupt":
                yield from _told(line.at_s, data)
            elif transfer[1] == "Wrote":
                yield from reader.wrote(line.at_s, data)
            else:
                yield from reader.read(line.at_s, data)
    yield from reader.unanswered()


def _told(at_s: float, data: bytes) -> Iterator[Unasked]:
    if len(data) >= HEAD.size and HEAD.unpack_from(data)[1] == EVENT:
        yield Unasked(at_s=at_s, code=HEAD.unpack_from(data)[2], parameters=_words(data[HEAD.size :]))


def _taken(stream: bytearray) -> tuple[int, int, bytes] | None:
    """Take the next whole container from a stream: its kind, its code, what is in it."""
    if len(stream) < HEAD.size:
        return None
    size, kind, code, _ = HEAD.unpack_from(stream)
    if size < HEAD.size:  # not the beginning of one: what is out of step is left
        stream.clear()
        return None
    if len(stream) < size:
        return None
    rest = bytes(stream[HEAD.size : size])
    del stream[:size]
    return kind, code, rest


def _words(data: bytes) -> tuple[int, ...]:
    return struct.unpack(f"<{len(data) // 4}I", data[: len(data) // 4 * 4])


def _numbers(text: str | None) -> tuple[int, ...]:
    return tuple(int(one, 16) for one in (text or "").split(",") if one)
