"""The run's side of the local socket: a snapshot and then all that is shown to each face, their words to the run.

One daemon thread does it all, in one asyncio loop; so each face sees the same in the same order. The engine
only leaves there what it shows. What a face does (nonsense, floods, not reading, going away) costs itself alone.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import socket
import stat
import threading
from collections import deque
from collections.abc import AsyncIterator, Callable
from pathlib import Path

from tether.clock import AffineClock
from tether.control.commands import Verb
from tether.control.messages import (
    LONGEST_LINE,
    Ask,
    Bye,
    Facts,
    GarbledMessageError,
    Hello,
    LineAnswer,
    StreamEntry,
    decode_request,
    encode,
)
from tether.control.registry import LONGEST_PATH, answers, own_folder
from tether.errors import BusyError, PlanError
from tether.files.errors import disk_sentences
from tether.journal.codec import Entry
from tether.journal.snapshot import Snapshot, after

MOST_FACES = 16
#: A face beyond those is heard once before it is sent away, and waited for so long [s]: whoever it is may say stop.
LAST_WORD_S = 1.0
#: What may wait for a face that does not read; if it is more when the next line comes, the face is cut off [bytes].
MOST_WAITING = 1024 * 1024
#: How long a face may take to read the last lines to it [s].
LAST_WORDS_S = 1.0
#: For how long a face is not read from after a line that was acted on, or was garbled [s]: 10 and 50 lines a second.
ACTED_ON_S, GARBLED_S = 0.1, 0.02
#: How much of that is let pass, for whoever types fast [s].
ALLOWED_S = 1.0

_OVER = Bye(sentence="The run is over.", again=False)
_CUT_OFF = Bye(sentence="Too much was left unread, so this face is cut off; attach again to go on.", again=True)
_LEFT = Bye(sentence="This face has stopped sending, so it is taken to have left.", again=True)
_FULL = Bye(sentence=f"{MOST_FACES} faces are attached already; leave one of them first.", again=True)


class Server:
    """Serves faces on a unix socket. Close it whether or not it could be started.

    Parameters
    ----------
    path
        Where the socket is; its folder must be the user's own.
    facts
        Whose run it is.
    clock
        The run's clock, which faces count down with.
    say
        Given each word of a face, in the server's thread; must return at once.
    """

    def __init__(self, path: Path, facts: Facts, clock: AffineClock, say: Callable[[Verb], None]) -> None:
        self._path = path
        self._facts = facts
        self._clock = clock
        self._say = say
        self._snapshot = Snapshot()
        self._faces: set[_Attached] = set()
        self._heard_once = 0
        self._loop = asyncio.new_event_loop()
        self._ending = asyncio.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Open the socket; when this returns, faces can attach.

        Raises
        ------
        BusyError
            If a run answers there already.
        PlanError
            If the path or its folder cannot be used.
        """
        listening = _listen(self._path)
        self._thread = threading.Thread(target=self._work, args=(listening,), name="faces", daemon=True)
        self._thread.start()

    def show(self, entry: Entry) -> None:
        """Tell every face what a run shows. Returns at once and never raises; after `close` it does nothing."""
        self._from_outside(self._spread, entry)

    def close(self) -> None:
        """Tell the faces what is left to tell, say goodbye, and remove the socket; harmless when that is done."""
        if self._thread is None:
            self._loop.close()
            return
        self._from_outside(self._ending.set)
        self._thread.join()

    def _from_outside(self, do: Callable[..., object], *args: object) -> None:
        """Have the server's thread do something, in order; nothing once it has ended."""
        with contextlib.suppress(RuntimeError):
            self._loop.call_soon_threadsafe(do, *args)

    # In the server's thread --------------------------------------------------------------------------------------

    def _work(self, listening: socket.socket) -> None:
        with asyncio.Runner(loop_factory=lambda: self._loop) as runner:
            runner.run(self._serve(listening))

    async def _serve(self, listening: socket.socket) -> None:
        server = await asyncio.start_unix_server(self._attend, sock=listening, limit=LONGEST_LINE)
        await self._ending.wait()
        self._path.unlink(missing_ok=True)
        for face in self._faces:
            face.end(encode(_OVER))
        while others := asyncio.all_tasks() - {asyncio.current_task()}:
            await asyncio.wait(others)
        server.close()

    def _spread(self, entry: Entry) -> None:
        line = encode(StreamEntry(entry=entry))
        self._snapshot = after(self._snapshot, entry.record)
        for face in self._faces:
            face.put(line)

    async def _attend(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Serve one face from its hello to its bye."""
        if self._ending.is_set() or len(self._faces) >= MOST_FACES:
            await self._sent_away(reader, writer)
            return
        face = _Attached(writer, encode(Hello(facts=self._facts, clock=self._clock, snapshot=self._snapshot)))
        self._faces.add(face)
        hearing = asyncio.create_task(self._hear(reader, face))
        try:
            await face.read_out()
        finally:
            self._faces.remove(face)
            hearing.cancel()
            writer.transport.abort()

    async def _sent_away(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Say goodbye to a face for which there is no room; a word that it says at once is answered first."""
        try:
            if not self._ending.is_set() and self._heard_once < MOST_FACES:
                self._heard_once += 1
                try:
                    await self._answer_once(reader, writer)
                finally:
                    self._heard_once -= 1
            writer.write(encode(_OVER if self._ending.is_set() else _FULL))
        finally:
            writer.close()

    async def _answer_once(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with contextlib.suppress(TimeoutError, ConnectionError):
            async with asyncio.timeout(LAST_WORD_S):
                async for line in _lines(reader):
                    writer.write(encode(self._answer(line)))
                    return

    async def _hear(self, reader: asyncio.StreamReader, face: _Attached) -> None:
        """Answer what a face sends until it stops sending, no faster than it may."""
        allowance = Allowance()
        try:
            async for line in _lines(reader):
                answer = self._answer(line)
                face.put(encode(answer))
                cost_s = ACTED_ON_S if answer.ok else GARBLED_S
                await asyncio.sleep(allowance.wait_s(cost_s, self._loop.time()))
        except ConnectionError:
            pass
        finally:
            face.end(encode(_LEFT))

    def _answer(self, line: bytes | None) -> LineAnswer:
        if line is None:
            return LineAnswer(
                to=None, ok=False, sentence=f"This line is too long; at most {LONGEST_LINE} bytes are read."
            )
        try:
            request = decode_request(line)
        except GarbledMessageError as error:
            return LineAnswer(to=error.to, ok=False, sentence=" ".join(error.sentences))
        if isinstance(request, Ask):
            return LineAnswer(to=request.to, ok=True, sentence="This is the state of the run.", snapshot=self._snapshot)
        if self._snapshot.over:
            return LineAnswer(to=request.to, ok=False, sentence="The ladder has ended; there is nothing left to steer.")
        self._say(request.verb)
        return LineAnswer(to=request.to, ok=True, sentence=f"The run is told: {request.verb}.")


class _Attached:
    """The lines that are still to be read out to one face; a face that leaves too many is cut off."""

    def __init__(self, writer: asyncio.StreamWriter, hello: bytes) -> None:
        self._writer = writer
        self._lines = deque([hello])
        self._waiting = len(hello)
        self._more = asyncio.Event()
        self._ended = False
        self._until = asyncio.timeout(None)

    def put(self, line: bytes) -> None:
        """Add a line; returns at once."""
        if self._ended:
            return
        if self._waiting > MOST_WAITING:
            self._lines.clear()
            self.end(encode(_CUT_OFF))
            return
        self._lines.append(line)
        self._waiting += len(line)
        self._more.set()

    def end(self, last: bytes) -> None:
        """Add the last line: the face has a moment to read what waits, then it is dropped."""
        if self._ended:
            return
        self._ended = True
        self._lines.append(last)
        self._more.set()
        self._until.reschedule(asyncio.get_running_loop().time() + LAST_WORDS_S)

    async def read_out(self) -> None:
        """Write the lines as fast as the face reads them, until the last is out or the face is gone."""
        self._writer.transport.set_write_buffer_limits(high=0)
        try:
            async with self._until:
                while self._lines or not self._ended:
                    await self._read_out_waiting()
        except (ConnectionError, TimeoutError):
            self._ended = True

    async def _read_out_waiting(self) -> None:
        self._more.clear()
        while self._lines:
            line = self._lines.popleft()
            self._waiting -= len(line)
            self._writer.write(line)
            await self._writer.drain()
        if not self._ended:
            await self._more.wait()


class Allowance:
    """How fast one face may send: every line costs some time, of which `ALLOWED_S` may be owed."""

    def __init__(self) -> None:
        self._paid_s = 0.0

    def wait_s(self, cost_s: float, now_s: float) -> float:
        """Return how long to wait before the next line is read [s], given what the last one costs."""
        self._paid_s = max(self._paid_s, now_s) + cost_s
        return max(self._paid_s - now_s - ALLOWED_S, 0.0)


async def _lines(reader: asyncio.StreamReader) -> AsyncIterator[bytes | None]:
    """Yield the lines of a face; None, and nothing more of it, for each part of a line that is too long."""
    skipping = False
    while True:
        try:
            line = await reader.readuntil()
        except asyncio.LimitOverrunError as overrun:
            await reader.readexactly(overrun.consumed)
            skipping = True
            yield None
        except asyncio.IncompleteReadError as end:
            if end.partial and not skipping:
                yield end.partial
            return
        else:
            if not skipping:
                yield line
            skipping = False


def _listen(path: Path) -> socket.socket:
    """Open a socket at a path where nobody answers, for this user only."""
    if len(os.fsencode(path)) > LONGEST_PATH:
        raise PlanError(f"{path} is too long for a socket; at most {LONGEST_PATH} bytes are possible.")
    own_folder(path.parent)
    with disk_sentences(path):
        _clear(path)
        listening = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        try:
            listening.bind(os.fspath(path))
            path.chmod(0o600)
            listening.listen(MOST_FACES)
        except OSError:
            listening.close()
            raise
    return listening


def _clear(path: Path) -> None:
    """Remove the socket that a dead process left; refuse to touch anything else."""
    with contextlib.suppress(FileNotFoundError):
        if not stat.S_ISSOCK(path.lstat().st_mode):
            raise PlanError(f"{path} is in the way: it is not a socket. Remove it.")
        if answers(path):
            raise BusyError(f"A run answers at {path} already; watch it with: tether watch")
        path.unlink()
