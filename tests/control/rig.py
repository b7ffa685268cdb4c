"""A server on a real socket, and what was said to it."""

from __future__ import annotations

import json
import queue
import socket
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

from tests.journal.shown import TellingServer, ladder_ended
from tether.clock import AffineClock
from tether.control.client import Face
from tether.control.commands import Verb
from tether.control.messages import Facts

FACTS = Facts(outing="/outings/weir", title="Weir", simulated=True)


CLOCK = AffineClock(pace=60.0, origin_real_ns=1, origin_ns=2)


LAST = ladder_ended("done")


#: Nothing here takes long; a test that waits so long has failed [s].
SOON_S = 10.0


class Rig:
    """A server and what was said to it."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.said: queue.SimpleQueue[Verb] = queue.SimpleQueue()
        self.server = TellingServer(path, FACTS, CLOCK, self.said.put)

    def face(self) -> closing[Face]:
        """Attach a face, for a with statement."""
        return closing(Face.attach(self.path))

    def plain(self) -> socket.socket:
        """Connect without a client of ours."""
        end = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        end.settimeout(SOON_S)
        end.connect(str(self.path))
        return end


def messages(end: socket.socket) -> Iterator[dict[str, Any]]:
    """Yield what comes until the other side closes; a last line that is cut short is left out."""
    heard = b""
    while True:
        try:
            chunk = end.recv(65536)
        except ConnectionResetError:
            return
        if not chunk:
            return
        *lines, heard = (heard + chunk).split(b"\n")
        yield from map(json.loads, lines)
