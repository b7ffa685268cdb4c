"""The line by which a camera on the wire is told what the person does, and to end.

Messages are those of :mod:`tether.body.wire`: ``{"id": 1, "ask": "stage", "with": [...]}``, answered when done. Asked
can be "stage" (what is in front of the lens and in the body), "press" (the body's own button), "dial" (the mode dial
to a mode), "focus" (the lens's switch) and "end"; anything else is answered and does nothing.
"""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from pathlib import Path
from typing import get_args

from tether.body.protocol import SceneChange
from tether.body.responder.physics import Physics
from tether.body.responder.server import Responder
from tether.body.responder.start import Focus, Mode
from tether.body.wire import GarbledError, Message, Wire, unpack

NAME = "wire.sock"
#: Nobody was heard of for this long: it ends by itself [s].
ALONE_S = 900.0
_LOOK_S = 0.5


class Control:
    """See the module.

    Parameters
    ----------
    path
        Its socket; one that is left there is removed.
    physics, server
        What is told.
    """

    def __init__(self, path: Path, physics: Physics, server: Responder) -> None:
        path.unlink(missing_ok=True)
        self._listener = socket.socket(socket.AF_UNIX)
        self._listener.bind(str(path))
        self._listener.listen()
        self._physics = physics
        self._server = server
        self._heard_ns = time.monotonic_ns()
        threading.Thread(target=self._accept, daemon=True).start()
        threading.Thread(target=self._end_when_alone, daemon=True).start()

    def _accept(self) -> None:
        while True:
            end, _ = self._listener.accept()
            threading.Thread(target=self._hear, args=(Wire(end),), daemon=True).start()

    def _hear(self, wire: Wire) -> None:
        with contextlib.closing(wire), contextlib.suppress(EOFError, GarbledError, OSError):
            while True:
                message = wire.receive()
                self._heard_ns = time.monotonic_ns()
                self._do(message)
                wire.send({"id": message.get("id"), "answer": True})
                if message.get("ask") == "end":
                    self._server.close()

    def _do(self, message: Message) -> None:
        match message.get("ask"), unpack(message.get("with", [])):
            case "stage", (SceneChange() as change,):
                self._physics.stage(change)
            case "press", ():
                self._physics.press()
            case "dial", (mode,) if mode in get_args(Mode):
                self._physics.mode = mode
            case "focus", (focus,) if focus in get_args(Focus):
                self._physics.focus = focus

    def _end_when_alone(self) -> None:
        while time.monotonic_ns() - max(self._server.heard_ns, self._heard_ns) <= ALONE_S * 1e9:
            time.sleep(_LOOK_S)
        self._server.close()
