"""A face's side of the local socket: attach to a run, hear what it shows in order, say words to it."""

from __future__ import annotations

import itertools
import os
import socket
import time
from collections import deque
from collections.abc import Callable
from pathlib import Path

from tether.control.commands import Verb
from tether.control.messages import Ask, Bye, Hello, LineAnswer, Message, Say, StreamEntry, decode, encode_request
from tether.errors import LostError
from tether.journal.codec import Entry
from tether.journal.records import Record
from tether.journal.snapshot import Snapshot, after

#: How long a run may take to answer [s].
ANSWER_S = 10.0
_CHUNK = 64 * 1024


class GoneError(LostError):
    """The run is no longer at the other end.

    Parameters
    ----------
    sentence
        What happened.
    again
        Whether it may still go on, so that attaching again is worth a try: this face was cut off, or the run vanished
        without goodbye and may be taken up again.
    """

    def __init__(self, sentence: str, *, again: bool) -> None:
        super().__init__(sentence)
        self.again = again


class Face:
    """A face attached to a run. One thread uses it.

    Attributes
    ----------
    hello
        What the run said first: whose run it is, its clock, and how it stood then.
    snapshot
        How the run stands after the last record that :meth:`next` returned.
    heard_s
        When anything came last, by the machine's monotonic clock [s]; see :meth:`knock`.
    """

    def __init__(self, line: _Line, hello: Hello) -> None:
        self.hello = hello
        self.snapshot: Snapshot = hello.snapshot
        self.heard_s = time.monotonic()
        self._line = line
        self._stream = hello.snapshot.stream
        self._entries: deque[Entry] = deque()
        self._numbers = itertools.count(1)

    @classmethod
    def attach(cls, path: Path) -> Face:
        """Attach to the run that answers at a socket's path.

        Raises
        ------
        GoneError
            If none answers, or it says goodbye at once.
        LostError
            If it does not greet in time, or is of another version.
        """
        line = _Line.to(path)
        try:
            hello = line.receive(time.monotonic() + ANSWER_S)
            if isinstance(hello, Hello):
                return cls(line, hello)
            raise LostError(f"The run at {path} has not answered within {ANSWER_S:.0f} s; it hangs, or is stopped.")
        except BaseException:
            line.close()
            raise

    def next(self, timeout_s: float | None) -> Record | None:
        """Return the next record that is shown, or None; as :meth:`next_entry` does."""
        entry = self.next_entry(timeout_s)
        return None if entry is None else entry.record

    def next_entry(self, timeout_s: float | None) -> Entry | None:
        """Return the next record that is shown, with its moment; None when none came within `timeout_s` real seconds.

        Where `timeout_s` is None, it is waited for without end.

        Raises
        ------
        GoneError
            When the run is gone; every record before that has been returned.
        """
        until_s = None if timeout_s is None else time.monotonic() + timeout_s
        while not self._entries:
            message = self._line.receive(until_s)
            if message is None:
                return None
            self._keep(message)
        entry = self._entries.popleft()
        self.snapshot = after(self.snapshot, entry.record)
        return entry

    def say(self, verb: Verb) -> str:
        """Say a word to the run and return its answer, a sentence. What comes of it is shown, as to every face.

        Raises
        ------
        GoneError
            When the run is gone.
        LostError
            When it refuses, or does not answer.
        """
        number = next(self._numbers)
        self._line.send(encode_request(Say(verb=verb, to=number)))
        return self._line.answer_to(number, verb, self._keep)

    def knock(self) -> None:
        """Ask for a sign of life, and do not wait for it: when it comes, :meth:`next` notes it in `heard_s`.

        Between two records a run is silent, for as long as a hold may take; one that hangs is silent too.

        Raises
        ------
        LostError
            When the run does not read what it is sent.
        """
        self._line.send(encode_request(Ask()))

    def close(self) -> None:
        """Leave; the run goes on. Harmless when done."""
        self._line.close()

    def _keep(self, message: Message) -> None:
        """Keep a record for :meth:`next`; a gap in their numbers would mean that faces no longer agree."""
        self.heard_s = time.monotonic()
        if not isinstance(message, StreamEntry):
            return
        if message.entry.stream != self._stream + 1:
            raise GoneError(f"Events after {self._stream} are missing; attach again.", again=True)
        self._stream += 1
        self._entries.append(message.entry)


def say_to(path: Path, verb: Verb) -> str:
    """Say one word to the run that answers at a socket's path, and return its answer: no room for a face is needed.

    Raises
    ------
    GoneError
        If none answers, or it says goodbye and no more.
    LostError
        If it refuses, or does not answer.
    """
    line = _Line.to(path)
    try:
        line.send(encode_request(Say(verb=verb, to=1)))
        return line.answer_to(1, verb, lambda _message: None)
    finally:
        line.close()


class _Line:
    """The connection, as messages."""

    def __init__(self, end: socket.socket) -> None:
        self._end = end
        self._heard = bytearray()
        self._searched = 0
        self._gone: GoneError | None = None

    @classmethod
    def to(cls, path: Path) -> _Line:
        """Connect to a path. Raises GoneError."""
        end = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        end.settimeout(ANSWER_S)
        try:
            end.connect(os.fspath(path))
        except OSError as error:
            end.close()
            raise GoneError(f"No run answers at {path}.", again=False) from error
        return cls(end)

    def send(self, line: bytes) -> None:
        """Send a line; that the run is gone shows when its answer is waited for."""
        self._end.settimeout(ANSWER_S)
        try:
            self._end.sendall(line)
        except TimeoutError as error:
            raise LostError(f"The run has not read what was said within {ANSWER_S:.0f} s.") from error
        except ConnectionError:
            return

    def receive(self, until_s: float | None) -> Message | None:
        """Return the next message; None if none came until `until_s` of the real monotonic clock. Raises GoneError."""
        if self._gone:
            raise self._gone
        while (line := self._taken()) is None:
            if not self._read(until_s):
                return None
        message = decode(line)
        if isinstance(message, Bye):
            self._gone = GoneError(message.sentence, again=message.again)
            raise self._gone
        return message

    def answer_to(self, number: int, verb: Verb, hear: Callable[[Message], None]) -> str:
        """Return the answer to a word; what comes meanwhile is handed to `hear`. Raises as :func:`say_to` does."""
        until_s = time.monotonic() + ANSWER_S
        while (message := self.receive(until_s)) is not None:
            hear(message)
            if isinstance(message, LineAnswer) and message.to == number:
                if not message.ok:
                    raise LostError(message.sentence)
                return message.sentence
        raise LostError(f"The run has not answered within {ANSWER_S:.0f} s; whether it heard “{verb}” is not known.")

    def close(self) -> None:
        self._end.close()

    def _taken(self) -> bytes | None:
        end = self._heard.find(b"\n", self._searched)
        if end < 0:
            self._searched = len(self._heard)
            return None
        line = bytes(self._heard[:end])
        del self._heard[: end + 1]
        self._searched = 0
        return line

    def _read(self, until_s: float | None) -> bool:
        """Read what has come; False if nothing came in time. Raises GoneError at the end."""
        self._end.settimeout(None if until_s is None else max(until_s - time.monotonic(), 0.0))
        try:
            chunk = self._end.recv(_CHUNK)
        except (TimeoutError, BlockingIOError):
            return False
        except ConnectionError:
            chunk = b""
        if not chunk:
            self._gone = GoneError("The run has disappeared; it may be resumed.", again=True)
            raise self._gone
        self._heard += chunk
        return True
