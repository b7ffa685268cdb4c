"""The line by which a camera on the wire is told what the person does, and by which it knows that it is kept.

Messages are those of :mod:`tether.body.wire`: ``{"id": 1, "ask": "stage", "with": [...]}``, answered when done. Asked
can be "stage" (what is in front of the lens and in the body), "press" (the body's own button), "dial" (the mode dial
to a mode), "focus" (the lens's switch), "keep" (whoever asks it keeps the camera, for as long as the line lasts) and
"end".
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
#: Nobody has asked to keep it within this time of its start: it ends, unless it outlives its keepers [s].
KEPT_WITHIN_S = 10.0
#: Nobody was heard of for this long: it ends, whatever it was told [s].
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
    outlives_keeper
        Whether it goes on when its keepers are gone.
    """

    def __init__(self, path: Path, physics: Physics, server: Responder, *, outlives_keeper: bool) -> None:
        path.unlink(missing_ok=True)
        self._listener = socket.socket(socket.AF_UNIX)
        self._listener.bind(str(path))
        self._listener.listen()
        self._physics = physics
        self._server = server
        self._outlives_keeper = outlives_keeper
        self._keepers = 0
        self._started_ns = self._heard_ns = time.monotonic_ns()
        self._lock = threading.Lock()
        threading.Thread(target=self._accept, daemon=True).start()
        threading.Thread(target=self._end_when_alone, daemon=True).start()

    def _accept(self) -> None:
        while True:
            end, _ = self._listener.accept()
            threading.Thread(target=self._hear, args=(Wire(end),), daemon=True).start()

    def _hear(self, wire: Wire) -> None:
        keeps = False
        with contextlib.closing(wire):
            with contextlib.suppress(EOFError, GarbledError, OSError):
                while True:
                    message = wire.receive()
                    self._heard_ns = time.monotonic_ns()
                    if message.get("ask") == "keep" and not keeps:
                        keeps = True
                        self._count(1)
                    self._do(message)
                    wire.send({"id": message.get("id"), "answer": True})
                    if message.get("ask") == "end":
                        self._server.close()
            if keeps:
                self._count(-1)

    def _count(self, one: int) -> None:
        with self._lock:
            self._keepers += one
            if self._keepers == 0 and not self._outlives_keeper:
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
        while True:
            time.sleep(_LOOK_S)
            now_ns = time.monotonic_ns()
            heard_ns = max(self._server.heard_ns, self._heard_ns)
            unkept = self._keepers == 0 and not self._outlives_keeper
            if (unkept and now_ns - self._started_ns > KEPT_WITHIN_S * 1e9) or now_ns - heard_ns > ALONE_S * 1e9:
                self._server.close()
                return
