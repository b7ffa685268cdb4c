"""The engine's handle on a camera process: starts it, asks it, passes its events on, and replaces it when it fails."""

from __future__ import annotations

import contextlib
import itertools
import json
import os
import queue
import socket
import subprocess
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tether.body import stamps
from tether.body.handle import Handle
from tether.body.hold import EXPOSING
from tether.body.open import BodyChoice, EventBox
from tether.body.process import STAMPS_NAME, START_NAME
from tether.body.protocol import CameraEvent, Changed, Ended, Failed, Opened, Order, Remark
from tether.body.stamps import Stamps
from tether.body.wire import GarbledError, Message, Wire, pack, unpack, unpacked_error
from tether.clock import AffineClock, to_s
from tether.errors import BusyError, LostError, TetherError
from tether.files.errors import disk_sentences
from tether.files.last_words import log_if_any, see_end, start_apart
from tether.files.safe import safe_write

#: What camera processes say when they die of something unforeseen, in the body's folder.
LOG_NAME = "camera.log"
#: How long an answer may take, beyond what the request itself waits for [real s].
ALLOW_S = 30.0
ALLOW_LONG_S = {"start": 60.0, "card_files": 120.0, "fetch": 300.0}
#: How long a process that was told to end may take before it is ended by force [real s].
END_WITHIN_S = 2.0
#: The listening thread looks this often whether an exposure is overdue [real s].
_LOOK_S = 0.25

_OVER = "The session with the camera is over; connect anew."


class CameraProcess(Handle):
    """A camera in a process of its own. All calls must come from one thread.

    Parameters
    ----------
    choice
        The body to open there. Its folder also keeps the lock, the stamps and the log of the camera process.
    clock
        The run's clock, real or paced.
    box
        Where the events of exposures are put.
    realtime
        Whether to ask for real-time scheduling while a shutter is held open.

    Attributes
    ----------
    left
        What an earlier camera process of this folder knew of its last exposure, where that process was not left
        politely; None: nothing. If its shutter was still open, it is shut now, and `closed_by` is "lost".

    Raises
    ------
    TetherError
        The body can't be opened, or a shutter that was left open can't be closed yet.

    Notes
    -----
    Never are there two camera processes at a folder: a new one waits until an earlier one is gone. So making one may
    last until the end of a hold that the earlier one still ends by itself, or that is ended for it: see
    :func:`open_until_ns`.
    """

    def __init__(
        self,
        choice: BodyChoice,
        clock: AffineClock,
        box: EventBox,
        *,
        realtime: bool = True,
    ) -> None:
        self._choice = choice
        self._clock = clock
        self._box = box
        self._realtime = realtime
        self.left: Stamps | None = None
        self._seen_open_ns: int | None = None
        self._start()

    def begin(self, order: Order) -> None:
        self._child.begin(order)

    def change(self, by_s: float) -> None:
        self._child.say("change", [float(by_s)])

    def close_now(self) -> None:
        self._child.say("close_now", [])

    def leave(self) -> None:
        with contextlib.suppress(TetherError):
            self._child.ask("leave", [], ALLOW_S + self._child.due_in_s())
        self._child.end(_OVER, politely=True)

    def reach_again(self) -> None:
        """Make contact with a camera that was lost, and see that its shutter is shut; harmless when all is well.

        A camera process that is lost is replaced. If it held a shutter open, this lasts until the moment at which that
        was to be closed; then Ended follows its Failed, with `closed_by` "lost" and what is then known.

        Raises
        ------
        TetherError
            The camera can't be reached now; this can be tried again.
        """
        if not self._child.lost:
            self._ask("reach_again")
            return
        self._child.end(_OVER, politely=False)
        if self._seen_open_ns is None:
            self._seen_open_ns = self._child.ended_ns
        self._start()
        if self.left is not None and self.left.closed_by == "lost" and self.left.way == "held":
            self._box.put(Ended(frame=self.left.frame, opening=self.left.opening(self._clock.now_ns())))

    def _ask(self, question: str, *values: Any) -> Any:
        more_s = 0.0
        if question == "new_files":
            more_s = values[1] / self._clock.pace  # it is waited for so long
        if question == "stage":  # what a person does, also while the shutter is held open
            more_s = self._child.due_in_s()
        elif self._child.exposing:
            raise BusyError(EXPOSING)
        return self._child.ask(question, pack(values), ALLOW_LONG_S.get(question, ALLOW_S) + more_s)

    def _start(self) -> None:
        folder = self._choice.folder
        with disk_sentences(folder):
            folder.mkdir(parents=True, exist_ok=True)
            stamps.make_file(folder / STAMPS_NAME)
            start = {"choice": pack(self._choice), "clock": pack(self._clock)}
            _keep(folder / START_NAME, json.dumps(start).encode())
            open_until_s = to_s((open_until_ns(folder, self._clock) or 0) - self._clock.now_ns())
            self._child = _Child(folder, self._choice.words or folder / LOG_NAME, self._clock, self._box)
        asked = {**start, "realtime": self._realtime, "seen_open_ns": self._seen_open_ns}
        try:
            allow_s = ALLOW_LONG_S["start"] + max(open_until_s / self._clock.pace, 0.0)
            self.left = self._child.ask("start", asked, allow_s)
        except TetherError as error:
            self._child.end(str(error), politely=True)
            raise
        self._seen_open_ns = None


def _keep(path: Path, data: bytes) -> None:
    """Have a file hold this; one that does is not written again, so that a full disk hinders no new start."""
    if not path.exists() or path.read_bytes() != data:
        safe_write(path, data)


def open_until_ns(folder: Path, clock: AffineClock) -> int | None:
    """Return until when an earlier camera process at this folder was to hold its shutter open; None: it is not open."""
    known = stamps.read(folder / STAMPS_NAME)
    return None if known is None or known.shut or not known.is_of(clock) else known.closes_at_ns


@dataclass(frozen=True, kw_only=True)
class _Answer:
    """An answer to the request of this number; None: whatever is asked can't be answered."""

    number: int | None
    value: Any = None
    error: TetherError | None = None


class _Child:
    """One camera process, from its start to its end, and the thread that hears it."""

    def __init__(self, folder: Path, words: Path, clock: AffineClock, box: EventBox) -> None:
        self.ended_ns: int | None = None
        self._folder = folder
        self._words = words
        self._clock = clock
        self._box = box
        self._answers: queue.SimpleQueue[_Answer] = queue.SimpleQueue()
        self._numbers = itertools.count(1)
        self._lock = threading.Lock()  # guards the four that follow
        self._lost: LostError | None = None
        self._frame: int | None = None
        self._more_s = 0.0
        self._due_s: float | None = None
        self._process, self._wire = _started(words)
        self._ear = threading.Thread(target=self._listen, name="camera", daemon=True)
        self._ear.start()

    # Asking: the caller's thread

    @property
    def lost(self) -> bool:
        """Whether nothing more can be asked."""
        with self._lock:
            return self._lost is not None

    @property
    def exposing(self) -> bool:
        """Whether an exposure is in hand."""
        with self._lock:
            return self._frame is not None

    def due_in_s(self) -> float:
        """Return how long the exposure in hand may still take [real s]."""
        with self._lock:
            return 0.0 if self._due_s is None else max(self._due_s - time.monotonic(), 0.0)

    def ask(self, ask: str, values: Any, allow_s: float) -> Any:
        """Ask, and return the answer. Raises its error, or LostError when none comes in `allow_s` real seconds."""
        number = next(self._numbers)
        self.say(ask, values, number)
        answer = self._answer_to(number, time.monotonic() + allow_s)
        if answer is None:
            self.end(f"The camera did not answer {ask!r} within {allow_s:.0f} s and was given up.", politely=False)
            answer = self._answer_to(number, time.monotonic())
        if answer is not None and answer.error is not None:
            raise answer.error
        return None if answer is None else answer.value

    def _answer_to(self, number: int, until_s: float) -> _Answer | None:
        while True:
            try:
                answer = self._answers.get(timeout=max(until_s - time.monotonic(), 0.0))
            except queue.Empty:
                return None
            if answer.number in (number, None):
                return answer

    def say(self, ask: str, values: Any, number: int | None = None) -> None:
        """Send a request. Raises LostError when the process is known to be lost; the ear notices a new loss."""
        with self._lock:
            if self._lost is not None:
                raise self._lost
        with contextlib.suppress(OSError):
            self._wire.send({"id": number, "ask": ask, "with": values})

    def begin(self, order: Order) -> None:
        """Begin an exposure. Raises BusyError while another is in hand."""
        with self._lock:
            if self._frame is not None:
                raise BusyError(EXPOSING)
            if self._lost is None:
                self._frame = order.frame
                self._more_s = ALLOW_S + (order.command_s / self._clock.pace if order.way == "timed" else 0.0)
                self._due_s = time.monotonic() + self._more_s
        self.say("begin", [pack(order)])

    def end(self, sentence: str, *, politely: bool) -> None:
        """End the process and the thread, by force if need be; later requests are answered with `sentence`."""
        with self._lock:
            self._lost = self._lost or LostError(sentence)
        _end(self._process, politely=politely)
        self._ear.join()
        self._wire.close()

    # Hearing: the thread

    def _listen(self) -> None:
        try:
            while True:
                message = self._wire.receive_within(_LOOK_S)
                if message is not None:
                    self._hear(message)
                elif self._overdue():
                    raise TimeoutError("did not report the end of an exposure in time")
        except EOFError:
            why, politely = "ended unexpectedly", True
        except GarbledError as wrong:
            why, politely = f"sent {wrong}", False
        except TimeoutError as late:
            why, politely = str(late), False
        self.ended_ns = self._clock.now_ns()
        _end(self._process, politely=politely)
        self._lose(why, self.ended_ns)

    def _hear(self, message: Message) -> None:
        if "event" in message:
            self._pass_on(unpack(message["event"]))
        elif "error" in message:
            self._answers.put(_Answer(number=message.get("id"), error=unpacked_error(message["error"])))
        else:
            self._answers.put(_Answer(number=message.get("id"), value=unpack(message.get("answer"))))

    def _pass_on(self, event: CameraEvent) -> None:
        with self._lock:
            match event:
                case Opened() | Changed():
                    self._frame = event.frame
                    left_s = to_s(event.closes_at_ns - self._clock.now_ns()) / self._clock.pace
                    self._due_s = time.monotonic() + left_s + self._more_s
                case Ended() | Failed():
                    self._frame = self._due_s = None
                case Remark():
                    pass
                case _:
                    raise GarbledError("an event that is none")
        self._box.put(event)

    def _overdue(self) -> bool:
        with self._lock:
            return self._due_s is not None and time.monotonic() > self._due_s

    def _lose(self, why: str, ended_ns: int) -> None:
        """Answer whoever waits, and end the exposure in hand with what is known of it."""
        sentence = f"The camera process {why}; what it said last is in {self._words}."
        with self._lock:
            self._lost = lost = self._lost or LostError(sentence)
            frame, self._frame, self._due_s = self._frame, None, None
        if frame is not None:
            known = stamps.read(self._folder / STAMPS_NAME)
            opening = known.opening(ended_ns) if known is not None and known.frame == frame else None
            self._box.put(Failed(frame=frame, kind=lost.kind, sentences=lost.sentences, opening=opening))
        self._answers.put(_Answer(number=None, error=lost))


def _started(words: Path) -> tuple[subprocess.Popen[bytes], Wire]:
    """Start a camera process: a fresh interpreter in a session of its own that inherits its line and nothing else."""
    ours, theirs = socket.socketpair()
    with theirs, log_if_any(words, "a camera process starts") as log:
        line = theirs.fileno()
        environment = {**os.environ, "LC_ALL": "C", "LANGUAGE": ""}
        process = start_apart("tether.body.process", str(line), log=log, pass_fds=(line,), env=environment)
    return process, Wire(ours)


def _end(process: subprocess.Popen[bytes], *, politely: bool) -> None:
    """Wait until the process has ended: told to close and end unless `politely`, and by force if it does not."""
    if not politely:
        process.terminate()
    see_end(process, END_WITHIN_S)
