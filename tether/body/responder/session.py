"""One client: its two connections, its operations one after the other, and the events it is told."""

from __future__ import annotations

import contextlib
import socket
import struct
import threading
from collections.abc import Callable, Sequence
from time import sleep

from tether.body.responder.codes import Op, Response, name_of
from tether.body.responder.faults import Call
from tether.body.responder.packets import (
    INIT_EVENT_ACK,
    BrokenError,
    Request,
    packed,
    receive_request,
    send_data,
    send_event,
    send_response,
)
from tether.body.responder.parts import DONE, Reply
from tether.body.responder.physics import Physics
from tether.body.responder.standard import Standard


class Session:
    """See the module.

    Parameters
    ----------
    end
        The connection it commands on; whoever made it closes it.
    number
        By which its second connection is known.
    physics, dialect
        The body, and what is spoken.
    """

    def __init__(self, end: socket.socket, number: int, physics: Physics, dialect: Standard) -> None:
        self.number = number
        #: Set when it is over.
        self.over = threading.Event()
        self._end = end
        self._physics = physics
        self._dialect = dialect
        self._event_end: socket.socket | None = None
        self._event_here = threading.Event()
        self._open = False

    def told_at(self, event_end: socket.socket, number: int) -> None:
        """Take a connection as the one for events. Raises BrokenError: it is another client's, or there is one."""
        if number != self.number or self._event_here.is_set():
            raise BrokenError("a connection for events that nobody waits for")
        event_end.sendall(packed(INIT_EVENT_ACK))
        self._event_end = event_end
        self._event_here.set()

    def serve(self, within_s: float, heard: Callable[[int], None]) -> None:
        """Serve it to its end, given how long its second connection may take, and who is told when it was heard.

        Raises
        ------
        EOFError, OSError, BrokenError, GoneError
            How it ended.
        """
        try:
            if not self._event_here.wait(within_s):
                raise BrokenError("a client without a connection for events")
            self._end.settimeout(None)
            while True:
                request = receive_request(self._end)
                heard(request.at_ns)
                self._serve_one(request)
        finally:
            self.over.set()

    def tell(self, events: Sequence[tuple[int, int]]) -> None:
        """Send events (code, parameter); nothing where it is gone."""
        with contextlib.suppress(OSError):
            for code, parameter in events:
                if self._event_end is not None:
                    send_event(self._event_end, code, (parameter,))

    @property
    def listens(self) -> bool:
        """Whether it can be told events."""
        return self._open and self._event_here.is_set() and not self.over.is_set()

    def drop(self) -> None:
        """Reset its connections, as a cable that is pulled does."""
        for end in (self._end, self._event_end):
            if end is not None:
                with contextlib.suppress(OSError):
                    reset_when_closed(end)
                    end.shutdown(socket.SHUT_RD)

    def _serve_one(self, request: Request) -> None:
        """Do one operation, answer it, and only then write the record."""
        call = self._dialect.call_of(request)
        frame = self._physics.frame_of(call, request.parameter(0))
        reply = self._busy(frame, call) or self._do(request)
        late = call and self._physics.troubles.strikes("answers late", frame, call)
        sleep(reply.takes_s + (late.for_s if late else 0.0))
        if reply.data is not None:
            send_data(self._end, request.transaction, reply.data)
        send_response(self._end, request.transaction, reply.code, reply.parameters)
        self._physics.record.add(
            "operation",
            at_ns=request.at_ns,
            code=request.code,
            name=name_of(request.code),
            parameters=request.parameters,
            response=int(reply.code),
        )
        self._physics.record.write()

    def _busy(self, frame: int, call: Call | None) -> Reply | None:
        fault = call and self._physics.troubles.strikes("answers busy", frame, call)
        if not fault:
            return None
        sleep(fault.for_s)
        return Reply(code=Response.BUSY)

    def _do(self, request: Request) -> Reply:
        match request.code:
            case Op.OPEN_SESSION if self._open:
                return Reply(code=Response.SESSION_ALREADY_OPEN)
            case Op.OPEN_SESSION:
                self._dialect.begin()
                self._open = True
                return DONE
            case Op.GET_DEVICE_INFO:
                return self._dialect.do(request)
            case _ if not self._open:
                return Reply(code=Response.SESSION_NOT_OPEN)
            case Op.CLOSE_SESSION:
                self._open = False
                return DONE
        return self._dialect.do(request)


def reset_when_closed(end: socket.socket) -> None:
    """Have a connection be reset, and not ended in order, when it is closed. Raises OSError."""
    end.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
