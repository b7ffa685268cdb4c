"""One client: its operations one after the other, and the events it is told, whatever it is connected by."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Sequence
from time import sleep
from typing import Protocol

from tether.body.responder.codes import Op, Response, name_of
from tether.body.responder.faults import Call
from tether.body.responder.packets import Request
from tether.body.responder.parts import DONE, Reply
from tether.body.responder.physics import Physics
from tether.body.responder.standard import Standard


class End(Protocol):
    """Our end of what a client is connected by."""

    def request(self) -> Request:
        """Wait for an operation and all its data. Raises EOFError, OSError, BrokenError: there will be none."""

    def data(self, transaction: int, data: bytes) -> None:
        """Send the data of an operation. Raises OSError."""

    def response(self, transaction: int, code: int, parameters: tuple[int, ...]) -> None:
        """Send the response that ends an operation. Raises OSError."""

    def event(self, code: int, parameters: tuple[int, ...]) -> None:
        """Send an event. Raises OSError."""

    def drop(self) -> None:
        """End it, as a cable that is pulled does."""


class Session:
    """See the module.

    Parameters
    ----------
    end
        What the client is connected by; whoever made it closes it.
    physics, dialect
        The body, and what is spoken.
    """

    def __init__(self, end: End, physics: Physics, dialect: Standard) -> None:
        #: Set when it is over.
        self.over = threading.Event()
        self._end = end
        self._physics = physics
        self._dialect = dialect
        self._open = False

    def serve(self, heard: Callable[[int], None]) -> None:
        """Serve it to its end, given who is told when it was heard.

        Raises
        ------
        EOFError, OSError, BrokenError, GoneError
            How it ended.
        """
        try:
            while True:
                request = self._end.request()
                heard(request.at_ns)
                self._serve_one(request)
        finally:
            self.over.set()

    def tell(self, events: Sequence[tuple[int, int]]) -> None:
        """Send events (code, parameter); nothing where it is gone."""
        with contextlib.suppress(OSError):
            for code, parameter in events:
                self._end.event(code, (parameter,))

    @property
    def listens(self) -> bool:
        """Whether it can be told events."""
        return self._open and not self.over.is_set()

    def drop(self) -> None:
        """Have what it is connected by end, as a cable that is pulled does."""
        self._end.drop()

    def _serve_one(self, request: Request) -> None:
        """Do one operation, answer it, and only then write the record."""
        call = self._dialect.call_of(request)
        frame = self._physics.frame_of(call, request.parameter(0))
        reply = self._busy(frame, call) or self._do(request)
        late = call and self._physics.troubles.strikes("answers late", frame, call)
        sleep(reply.takes_s + (late.for_s if late else 0.0))
        if reply.data is not None:
            self._end.data(request.transaction, reply.data)
        self._end.response(request.transaction, reply.code, reply.parameters)
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
