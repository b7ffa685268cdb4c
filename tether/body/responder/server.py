"""The camera on its port: connections, who may be its client, and what happens beside the connection.

One client at a time. A connection is a client's first (it commands), or its second (it is told events there); what is
neither is ended, and so is every connection on which something comes that is no protocol. Nothing ends the server but
:meth:`Responder.close`.
"""

from __future__ import annotations

import contextlib
import socket
import struct
import threading
import time
import traceback
from collections.abc import Callable

from tether.body.dialects import Dialect
from tether.body.responder.codes import GoneError
from tether.body.responder.connections import Connections, reset_when_closed
from tether.body.responder.eos import Eos, OldEos
from tether.body.responder.nikon import Nikon
from tether.body.responder.packets import (
    INIT_COMMAND,
    INIT_EVENT,
    INIT_FAIL,
    SHORTEST_GREETING,
    BrokenError,
    greeting,
    packed,
    receive,
)
from tether.body.responder.physics import Physics
from tether.body.responder.session import Session
from tether.body.responder.standard import Plain, Standard
from tether.body.responder.watch import Watch
from tether.clock import to_ns

DIALECTS: dict[Dialect, type[Standard]] = {"eos": Eos, "eos-old": OldEos, "nikon": Nikon, "plain": Plain}
#: How long the greeting of a connection, or the second one of a client, may take [s].
_GREETS_WITHIN_S = 5.0
#: How long a client that comes while the last is not quite gone waits before it is turned away [s].
_TURNED_AWAY_AFTER_S = 2.0
_BUSY_REASON = struct.pack("<I", 2)


class Responder:
    """See the module.

    Parameters
    ----------
    physics
        The body.
    dialect
        What is spoken.
    """

    def __init__(self, physics: Physics, dialect: Dialect) -> None:
        self._physics = physics
        self._dialect = DIALECTS[dialect](physics)
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._free = threading.Semaphore()
        self._watch = Watch(physics, self._dialect)
        self._connections: Connections | None = None
        self._number = 0
        self._over = threading.Event()
        #: When a client was last heard [ns of the monotonic clock].
        self.heard_ns = time.monotonic_ns()

    @property
    def port(self) -> int:
        """The port it listens at."""
        return int(self._listener.getsockname()[1])

    def serve(self) -> None:
        """Accept connections until :meth:`close`."""
        physics = self._physics
        if fault := physics.troubles.strikes("asleep"):
            physics.away_until_ns = time.monotonic_ns() + to_ns(fault.for_s)
        for after_s in physics.troubles.pressed_after_s():
            _beside(self._press_after, after_s)
        watcher = _beside(self._watch.until, self._over)
        while not self._over.is_set():
            try:
                end, _ = self._listener.accept()
            except OSError:
                break
            _beside(self._welcome, end)
        self._over.set()
        watcher.join()
        # The last client's last operation is in the record before it is written out.
        self._free.acquire(timeout=_GREETS_WITHIN_S)

    def close(self) -> None:
        """Stop serving; for another thread, or a signal's handler."""
        self._over.set()
        with contextlib.suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        if session := self._watch.session:
            session.drop()

    # Connections

    def _welcome(self, end: socket.socket) -> None:
        """Serve a connection to its end, whatever that is; what must not happen is said in the log."""
        with end:
            try:
                self._serve(end)
            except (EOFError, BrokenError, GoneError, OSError):
                pass
            except Exception:
                traceback.print_exc()

    def _serve(self, end: socket.socket) -> None:
        if time.monotonic_ns() < self._physics.away_until_ns or self._physics.gone():
            reset_when_closed(end)
            return
        end.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        end.settimeout(_GREETS_WITHIN_S)
        first = receive(end)
        if first.kind == INIT_COMMAND and len(first.payload) >= SHORTEST_GREETING:
            self._serve_client(end)
        elif first.kind == INIT_EVENT and len(first.payload) == 4:
            self._tell_client(end, int.from_bytes(first.payload, "little"))

    def _tell_client(self, end: socket.socket, number: int) -> None:
        connections, session = self._connections, self._watch.session
        if connections and session:
            connections.told_at(end, number)
            session.over.wait()

    def _serve_client(self, end: socket.socket) -> None:
        if not self._free.acquire(timeout=_TURNED_AWAY_AFTER_S):
            end.sendall(packed(INIT_FAIL, _BUSY_REASON))
            return
        try:
            self._number += 1
            self._connections = connections = Connections(end, self._number)
            self._watch.session = session = Session(connections, self._physics, self._dialect)
            try:
                end.sendall(greeting(connections.number, self._dialect.model))
                connections.complete_within(_GREETS_WITHIN_S)
                session.serve(self._heard)
            finally:
                session.over.set()
        finally:
            self._connections = self._watch.session = None
            self._free.release()

    def _heard(self, at_ns: int) -> None:
        self.heard_ns = at_ns

    # Beside the connections

    def _press_after(self, after_s: float) -> None:
        if not self._over.wait(after_s):
            self._physics.press()


def _beside(work: Callable[..., None], *given: object) -> threading.Thread:
    thread = threading.Thread(target=work, args=given, daemon=True)
    thread.start()
    return thread
