"""A client's two connections over TCP: it commands on the first, and is told events on the second."""

from __future__ import annotations

import contextlib
import socket
import struct
import threading

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


class Connections:
    """See the module; the end of a :class:`~tether.body.responder.session.Session`.

    Parameters
    ----------
    end
        The connection it commands on; whoever made it closes it.
    number
        By which its second connection is known.
    """

    def __init__(self, end: socket.socket, number: int) -> None:
        self.number = number
        self._end = end
        self._event_end: socket.socket | None = None
        self._event_here = threading.Event()

    def told_at(self, event_end: socket.socket, number: int) -> None:
        """Take a connection as the one for events. Raises BrokenError: it is another client's, or there is one."""
        if number != self.number or self._event_here.is_set():
            raise BrokenError("a connection for events that nobody waits for")
        event_end.sendall(packed(INIT_EVENT_ACK))
        self._event_end = event_end
        self._event_here.set()

    def complete_within(self, within_s: float) -> None:
        """Wait for the second connection; then there is time for the first command. Raises BrokenError."""
        if not self._event_here.wait(within_s):
            raise BrokenError("a client without a connection for events")
        self._end.settimeout(None)

    def request(self) -> Request:
        return receive_request(self._end)

    def data(self, transaction: int, data: bytes) -> None:
        send_data(self._end, transaction, data)

    def response(self, transaction: int, code: int, parameters: tuple[int, ...]) -> None:
        send_response(self._end, transaction, code, parameters)

    def event(self, code: int, parameters: tuple[int, ...]) -> None:
        if self._event_end is not None:
            send_event(self._event_end, code, parameters)

    def drop(self) -> None:
        for end in (self._end, self._event_end):
            if end is not None:
                with contextlib.suppress(OSError):
                    reset_when_closed(end)
                    end.shutdown(socket.SHUT_RD)


def reset_when_closed(end: socket.socket) -> None:
    """Have a connection be reset, and not ended in order, when it is closed. Raises OSError."""
    end.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
