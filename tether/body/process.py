"""The camera process: the body and the hold, and nothing else. Started by :mod:`tether.body.remote`.

It draws nothing, reads no pictures and keeps no journal, so that nothing of its own disturbs a hold. One thread does
all: it owns the camera, and hears the line between two commands and while it holds the shutter. If the run process
vanishes it ends the exposure in hand at the planned moment, leaves its stamps in a file, and ends itself.
"""

from __future__ import annotations

import contextlib
import faulthandler
import fcntl
import gc
import os
import signal
import socket
import sys
import time
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, TypeVar

from tether.body import stamps
from tether.body.handle import QUESTIONS
from tether.body.hold import EXPOSING, HEARING_ENDS_S, CloseNow, Move, Word, close_left_open, hold, left_open, take
from tether.body.open import RehearsableBody, open_body
from tether.body.protocol import CameraEvent, Ended, Failed, Held, Opened, Order, Remark, ShutterRecord
from tether.body.scheduling import ask_for_short_turns
from tether.body.stamps import Stamps
from tether.body.wire import GarbledError, Message, Wire, pack, packed_error, unpack
from tether.clock import AffineClock, to_ns, to_s
from tether.errors import BusyError, LostError, TetherError
from tether.files.errors import disk_sentences
from tether.files.last_words import say_last

T = TypeVar("T")

#: Files in the body's folder: who owns the body, what is known of the exposure in hand, and what a camera process was
#: started with, for one that closes what it left open (:mod:`tether.body.closing`).
LOCK_NAME = "camera.lock"
STAMPS_NAME = "camera.stamps"
START_NAME = "camera.start"
#: While nobody is left to hear, it looks this often whether it is told to end [real s].
LOOK_S = 0.25
#: How long one that should be gone may keep a body from the next before it is taken to hang [real s].
HANGS_S = 15.0
_LOCK_AGAIN_S = 0.02
#: With nothing to hear, the body is listened to this often [real s].
_ATTEND_S = 1.0
#: What a body that exposes by itself can't be asked.
_NEED_FREE = ("apply", "put_back", "card_files", "fetch", "live", "nudge_focus")


class CameraOwner:
    """The one owner of the body: answers requests and makes exposures until it is told to end.

    Parameters
    ----------
    wire
        The line to the run process.
    body
        The open body.
    clock
        The run's clock.
    stamps_path
        The stamps file, made beforehand.
    realtime
        Whether to ask for real-time scheduling while a shutter is held open.
    """

    def __init__(
        self, wire: Wire, body: RehearsableBody, clock: AffineClock, stamps_path: Path, *, realtime: bool
    ) -> None:
        self._wire = wire
        self._body = body
        self._clock = clock
        self._stamps_path = stamps_path
        self._realtime = realtime
        self._stamps: Stamps | None = None
        self._left_open: ShutterRecord | None = None
        self._free_at_ns: int | None = None
        self._leave_asked: Message | None = None
        self._told_to_end = False

    def end_soon(self) -> None:
        """Close the shutter and end, as soon as this can be; for a signal handler."""
        self._told_to_end = True
        self._wire.stop_hearing()

    def end_left(self, left: Stamps | None, seen_open_ns: int | None) -> Stamps | None:
        """End what an earlier process left: close its shutter, at the planned moment if that is still to come.

        Parameters
        ----------
        left
            What that process knew of its last exposure; None: nothing.
        seen_open_ns
            When that process was last known to live; None: not known.

        Returns
        -------
        Stamps | None
            What is now known of that exposure.

        Raises
        ------
        TetherError
            The body does not take a close command.
        """
        if left is not None and left.way == "timed" and not left.over and left.is_of(self._clock):
            self._free_at_ns = left.free_at_ns  # it may still be exposing by itself; a close command could spoil that
            if self._exposes_alone():
                return left
        return end_left(self._body, self._clock, self._stamps_path, left, seen_open_ns, self._wait_alone)

    def serve(self) -> None:
        """Answer until the run process says that it leaves, or is gone, or this process is told to end."""
        while self._leave_asked is None:
            try:
                message = self._wire.receive_within(_ATTEND_S)
                if message is None:
                    self._body.attend(None)
                else:
                    self._take_up(message)
            except EOFError:
                break
            except GarbledError as wrong:
                self._complain(wrong)
        self._end()

    def _end(self) -> None:
        with contextlib.suppress(TetherError):
            self._close_left_open()
        self._body.leave()
        if self._leave_asked is not None:
            stamps.keep(self._stamps_path, None)
            self._answer(self._leave_asked, answer=None)

    # Requests

    def _take_up(self, message: Message) -> None:
        match message.get("ask"):
            case "leave":
                self._leave_asked = message
            case "change" | "close_now":
                pass  # the exposure that this was meant for is over
            case "begin":
                self._expose(_only(message, Order))
            case _:
                self._do(message)

    def _do(self, message: Message) -> None:
        """Do one request and answer it; an error is an answer too."""
        try:
            self._close_left_open()
            self._answer(message, answer=pack(self._asked(message)))
        except TetherError as error:
            self._answer(message, error=packed_error(error))
        except Exception as unforeseen:
            say_last(traceback.format_exc())
            sentence = f"The camera process could not do {message.get('ask')!r}: {unforeseen}."
            self._answer(message, error=packed_error(LostError(sentence)))

    def _asked(self, message: Message) -> Any:
        ask, values = message.get("ask"), unpack(message.get("with", []))
        if ask not in QUESTIONS:
            raise LostError(f"The camera process knows no request {ask!r}; it knows {', '.join(QUESTIONS)}.")
        if ask in _NEED_FREE:
            self._require_free()
        if ask == "reach_again":
            return self._reach_again()
        return getattr(self._body, ask)(*values)

    def _reach_again(self) -> None:
        """See that the shutter is shut; one that the body times by itself is left alone until it is over."""
        if not self._exposes_alone():
            self._body.close_shutter()

    def _exposes_alone(self) -> bool:
        """Say whether the body may still be exposing by itself what nobody heard the end of."""
        return self._free_at_ns is not None and self._clock.now_ns() < self._free_at_ns

    def _require_free(self) -> None:
        if self._free_at_ns is not None and self._exposes_alone():
            left_s = to_s(self._free_at_ns - self._clock.now_ns())
            raise BusyError(f"The camera may still be exposing by itself, for {left_s:.0f} s more; that is waited for.")

    def _answer(self, message: Message, **said: Any) -> None:
        self._send({"id": message.get("id"), **said})

    def _complain(self, wrong: GarbledError) -> None:
        sentence = f"The camera process was sent {wrong}, and did nothing."
        self._send({"id": None, "error": packed_error(LostError(sentence))})

    def _send(self, message: Message) -> None:
        # A run process that is gone is noticed where this process listens.
        with contextlib.suppress(OSError):
            self._wire.send(message)

    # Exposures

    def _expose(self, order: Order) -> None:
        try:
            self._require_free()
            self._close_left_open()
            self._stamps = Stamps.begun(order, self._clock)
            with disk_sentences(self._stamps_path):
                stamps.write(self._stamps_path, self._stamps)
        except TetherError as error:
            self._tell(Failed(frame=order.frame, kind=error.kind, sentences=error.sentences, opening=None))
            return
        if order.way == "timed":
            take(self._body, self._clock, order, self._tell)
        else:
            hold(self._body, self._clock, order, self._hear, self._tell, realtime=self._realtime)

    def _tell(self, event: CameraEvent) -> None:
        """Keep what an event says in the stamps file, then pass it on."""
        if isinstance(event, (Ended, Failed)) and event.opening is not None:
            self._left_open = left_open(event)
        self._keep(event)
        if isinstance(event, Failed) and self._stamps is not None and self._stamps.way == "timed":
            self._free_at_ns = self._stamps.free_at_ns
        self._send({"event": pack(event)})

    def _keep(self, event: CameraEvent) -> None:
        if self._stamps is None:
            return
        self._stamps = self._stamps.after(event)
        # Between opening and closing a shutter for a moment there is no time for a file.
        if not (isinstance(event, Opened) and event.closes_at_ns - event.at_ns <= to_ns(HEARING_ENDS_S)):
            stamps.keep(self._stamps_path, self._stamps)

    def _close_left_open(self) -> None:
        """Close a shutter that may have stayed open. Raises TetherError while the camera does not take it."""
        if self._left_open is not None:
            self._tell(close_left_open(self._body, self._clock, self._left_open))

    # Hearing while the shutter is open

    def _hear(self, until_ns: int) -> Word | None:
        """Wait until a moment for a word of the person; refuse meanwhile what must wait."""
        while (left_ns := until_ns - self._clock.now_ns()) > 0:
            try:
                message = self._wire.receive_within(min(to_s(left_ns) / self._clock.pace, _ATTEND_S))
                if message is None:
                    self._body.attend(until_ns)
                word = None if message is None else self._word(message)
            except EOFError:
                return self._wait_alone(until_ns)
            except GarbledError as wrong:
                self._complain(wrong)
            else:
                if word is not None:
                    return word
        return None

    def _word(self, message: Message) -> Word | None:
        match message.get("ask"):
            case "change":
                return Move(by_s=_only(message, float))
            case "close_now":
                return CloseNow()
            case "leave":
                self._leave_asked = message
                return CloseNow(by="camera process")
            case "stage":
                self._do(message)
            case _:
                self._answer(message, error=packed_error(BusyError(EXPOSING)))
        return None

    def _wait_alone(self, until_ns: int) -> Word | None:
        """Wait on, with nobody left to hear, until a moment or until told to end."""
        while not self._told_to_end and (now_ns := self._clock.now_ns()) < until_ns:
            self._clock.wait_until(min(until_ns, now_ns + to_ns(LOOK_S * self._clock.pace)))
            self._body.attend(until_ns)
        return CloseNow(by="camera process") if self._told_to_end else None


def end_left(
    body: Held,
    clock: AffineClock,
    stamps_path: Path,
    left: Stamps | None,
    seen_open_ns: int | None,
    wait: Callable[[int], object],
) -> Stamps | None:
    """End what an earlier process left, as :meth:`CameraOwner.end_left`.

    `wait` waits until a moment [ns], or until told to close now.
    """
    if left is None or left.shut or left.way == "timed" or not left.is_of(clock):
        body.close_shutter()
        return left
    if left.closes_at_ns is not None:
        wait(left.closes_at_ns)
    opening = left.opening(left.open_called_ns if seen_open_ns is None else seen_open_ns)
    known = left.after(close_left_open(body, clock, opening))
    stamps.keep(stamps_path, known)
    return known


def _only(message: Message, kind: type[T]) -> T:
    """Return the one value that comes with a message."""
    match unpack(message.get("with")):
        case (value,) if isinstance(value, kind):
            return value
    raise GarbledError(f"{message.get('ask')!r} without one {kind.__name__}")


@contextlib.contextmanager
def alone(path: Path, wait_s: float = 0.0) -> Iterator[None]:
    """Wait until no other camera process is at this folder, and keep others waiting meanwhile.

    Who that is stands in the file as far as the disk takes it; a shutter must be closed on one that is full too. One
    that has not gone `HANGS_S` after `wait_s`, in which it may still have an exposure to end, hangs: it is ended.
    """
    descriptor = _opened(path)
    try:
        _lock(descriptor, path, wait_s)
        with contextlib.suppress(OSError):
            os.ftruncate(descriptor, 0)
            os.write(descriptor, f"{os.getpid()}\n".encode())
        yield
    finally:
        os.close(descriptor)


def _lock(descriptor: int, path: Path, wait_s: float) -> None:
    until_s = time.monotonic() + wait_s + HANGS_S
    while True:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() > until_s:
                _end_hanging(path)
                until_s = time.monotonic() + HANGS_S
            time.sleep(_LOCK_AGAIN_S)
        else:
            return


def _end_hanging(path: Path) -> None:
    """End the camera process that has a lock, by force; nobody else does where its run process is gone too."""
    with contextlib.suppress(OSError, ValueError):
        pid = int(path.read_text())
        if b"tether.body." in Path(f"/proc/{pid}/cmdline").read_bytes():
            os.kill(pid, signal.SIGKILL)


def busy_for_s(left: Stamps | None, clock: AffineClock) -> float:
    """Return for how long an earlier process still has an exposure to end, as far as its stamps tell [real s]."""
    if left is None or left.over or left.shut or not left.is_of(clock):
        return 0.0
    until_ns = left.closes_at_ns if left.way == "held" else left.free_at_ns
    return 0.0 if until_ns is None else max(to_s(until_ns - clock.now_ns()) / clock.pace, 0.0)


def _opened(path: Path) -> int:
    """Open the lock file; one on a disk that was made read-only can be locked too."""
    try:
        return os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | os.O_CLOEXEC, 0o666)
    except OSError:
        return os.open(path, os.O_RDONLY | os.O_CLOEXEC)


def _remark(wire: Wire, remark: Remark) -> None:
    wire.send({"event": pack(remark)})


def _work(wire: Wire, start: Message) -> None:
    """Open the body as `start` asks, say what was left by an earlier process, and own it until the end."""
    asked = start["with"]
    choice, clock = unpack(asked["choice"]), unpack(asked["clock"])
    stamps_path = choice.folder / STAMPS_NAME
    with alone(choice.folder / LOCK_NAME, busy_for_s(stamps.read(stamps_path), clock)):
        body = open_body(choice, clock, lambda text, kept="": _remark(wire, Remark(text=text, kept=kept)))
        owner = CameraOwner(wire, body, clock, stamps_path, realtime=asked["realtime"])
        signal.signal(signal.SIGTERM, lambda *_: owner.end_soon())
        left = owner.end_left(stamps.read(stamps_path), asked["seen_open_ns"])
        wire.send({"id": start["id"], "answer": pack(left)})
        gc.freeze()
        owner.serve()


def main(descriptor: int) -> None:
    """Run the camera process on the socket that was handed to it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    faulthandler.enable()
    ask_for_short_turns()
    wire = Wire(socket.socket(fileno=descriptor))
    with contextlib.closing(wire), contextlib.suppress(EOFError, BrokenPipeError):
        start = wire.receive()
        try:
            _work(wire, start)
        except TetherError as error:
            wire.send({"id": start["id"], "error": packed_error(error)})


if __name__ == "__main__":
    main(int(sys.argv[1]))
