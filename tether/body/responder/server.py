"""Connections: one client at a time on a loopback port, its operations and its events.

What is no protocol ends the connection it came on, and nothing else.
"""

from __future__ import annotations

import contextlib
import socket
import struct
import threading
import time

from tether.body.responder.codes import Op, name_of
from tether.body.responder.eos import Eos, OldEos
from tether.body.responder.faults import Call
from tether.body.responder.nikon import Nikon
from tether.body.responder.packets import (
    INIT_COMMAND,
    INIT_EVENT,
    INIT_EVENT_ACK,
    BrokenError,
    Request,
    greeting,
    packed,
    receive,
    receive_request,
    send_data,
    send_event,
    send_response,
)
from tether.body.responder.physics import GoneError, Physics
from tether.body.responder.standard import Standard

DIALECTS: dict[str, type[Standard]] = {"eos": Eos, "eos-old": OldEos, "nikon": Nikon, "plain": Standard}
#: How long the second connection of a client, or its greeting, may take [s].
_GREETS_WITHIN_S = 5.0
#: How often it is looked for frames and for the moment of a fault [s].
LOOK_S = 0.01
_CALLS: dict[int, Call] = {
    Op.SET_PROPERTY_VALUE: "set",
    Op.EOS_SET_PROPERTY: "set",
    Op.INITIATE_CAPTURE: "trigger",
    Op.NIKON_TERMINATE_CAPTURE: "close",
    Op.EOS_RELEASE_OFF: "close",
    Op.EOS_BULB_END: "close",
    Op.GET_OBJECT: "get",
    Op.GET_PARTIAL_OBJECT: "get",
    Op.EOS_GET_PARTIAL_OBJECT: "get",
}
_EXPOSES = (Op.EOS_RELEASE_ON, Op.EOS_BULB_START, Op.EOS_REMOTE_RELEASE, Op.NIKON_CAPTURE_TO_CARD)


class Server:
    """The camera on its port.

    Parameters
    ----------
    physics
        The body.
    """

    def __init__(self, physics: Physics) -> None:
        self._physics = physics
        self._dialect = DIALECTS[physics.start.dialect](physics)
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._ends: list[socket.socket] = []
        self._event_end: socket.socket | None = None
        self._number = 0
        self._over = threading.Event()
        self.client_seen_ns = time.monotonic_ns()

    @property
    def port(self) -> int:
        """The port it listens at."""
        return int(self._listener.getsockname()[1])

    def serve(self) -> None:
        """Accept clients one after the other until :meth:`close`."""
        watcher = threading.Thread(target=self._watch, name="watcher", daemon=True)
        watcher.start()
        if fault := self._physics.troubles.strikes("asleep"):
            self._physics.away_until_ns = time.monotonic_ns() + round(fault.for_s * 1e9)
        while not self._over.is_set():
            try:
                end, _ = self._listener.accept()
            except OSError:
                break
            with end:
                if not self._away():
                    self._attend(end)
        self._over.set()
        watcher.join()

    def close(self) -> None:
        """Stop serving; for another thread."""
        self._over.set()
        with contextlib.suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self._drop()

    def _away(self) -> bool:
        return time.monotonic_ns() < self._physics.away_until_ns or self._physics.gone()

    def _attend(self, end: socket.socket) -> None:
        """Serve one client to its end, whatever that is."""
        with (
            contextlib.suppress(EOFError, BrokenError, GoneError, OSError, struct.error),
            contextlib.ExitStack() as kept,
        ):
            self._greet(end)
            event_end = kept.enter_context(self._event_connection())
            self._ends, self._event_end = [end, event_end], event_end
            end.settimeout(None)
            while True:
                self._do(end, receive_request(end))
        self._ends, self._event_end = [], None

    def _greet(self, end: socket.socket) -> None:
        end.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        end.settimeout(_GREETS_WITHIN_S)
        if receive(end).kind != INIT_COMMAND:
            raise BrokenError("a connection that does not begin with its greeting")
        self._number += 1
        end.sendall(greeting(self._number, self._dialect.model))

    def _event_connection(self) -> socket.socket:
        self._listener.settimeout(_GREETS_WITHIN_S)
        try:
            end, _ = self._listener.accept()
        finally:
            self._listener.settimeout(None)
        end.settimeout(_GREETS_WITHIN_S)
        end.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        if receive(end).kind != INIT_EVENT:
            end.close()
            raise BrokenError("a second connection that is not for events")
        end.sendall(packed(INIT_EVENT_ACK))
        return end

    def _do(self, end: socket.socket, request: Request) -> None:
        """Do one operation, answer it, and only then write the record."""
        physics = self._physics
        self.client_seen_ns = request.at_ns
        frame = physics.made
        reply = self._dialect.do(request)
        call = self._call(request, exposed=physics.made > frame)
        late = call and physics.troubles.strikes("answers late", physics.made, call)
        if late:
            time.sleep(late.for_s)
        if reply.data is not None:
            send_data(end, request.transaction, reply.data)
        send_response(end, request.transaction, reply.code, reply.parameters)
        physics.record.add(
            "operation",
            at_ns=request.at_ns,
            code=request.code,
            name=name_of(request.code),
            parameters=request.parameters,
            response=int(reply.code),
        )
        physics.record.write()

    def _call(self, request: Request, *, exposed: bool) -> Call | None:
        if request.code in _EXPOSES:
            if not exposed:
                return None
            return "open" if self._physics.held_open else "trigger"
        return _CALLS.get(request.code)

    # Beside the connection

    def _watch(self) -> None:
        """Look for frames on the card and tell of them where the dialect tells by itself; let faults happen."""
        while not self._over.wait(LOOK_S):
            physics = self._physics
            if physics.drop_at_ns is not None and time.monotonic_ns() >= physics.drop_at_ns:
                physics.drop_at_ns = None
                self._drop()
            elif self._ends and not physics.held_open and physics.gone():
                self._drop()
            physics.look()
            if self._dialect.pushes:
                self._push()

    def _push(self) -> None:
        end = self._event_end
        if end is None:
            return
        with contextlib.suppress(OSError):
            for code, parameter in self._dialect.event_codes(self._physics.due_news()):
                send_event(end, code, (parameter,))

    def _drop(self) -> None:
        """Reset the connections, as a cable that is pulled does."""
        for end in self._ends:
            with contextlib.suppress(OSError):
                end.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
                end.shutdown(socket.SHUT_RDWR)
