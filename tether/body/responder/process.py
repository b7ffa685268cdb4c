"""The process of a simulated camera on the wire: ``python -m tether.body.responder.process FOLDER``.

What it is comes as JSON on standard input. It binds a loopback port, writes where it is into `FOLDER/wire.json`, and
listens at `FOLDER/wire.sock` for what the person at the tripod does. It ends when it is told to, and by itself when
neither a client nor a keeper has been heard of for long.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import socket
import sys
import threading
import time
from pathlib import Path
from typing import Any

from tether.body.protocol import Stage
from tether.body.responder.physics import BY_HAND, Physics, RefusedError
from tether.body.responder.server import Server
from tether.body.responder.start import WireStart
from tether.body.wire import GarbledError, Message, Wire, unpack
from tether.clock import AffineClock
from tether.files.safe import safe_write

PLACE_NAME, CONTROL_NAME = "wire.json", "wire.sock"
#: Nobody was heard of for this long: it ends [s].
ALONE_S = 900.0
_LOOK_S = 1.0


class Control:
    """The line by which it is told what the person does, and to end.

    Parameters
    ----------
    path
        Its socket.
    physics, server
        What is told.
    """

    def __init__(self, path: Path, physics: Physics, server: Server) -> None:
        path.unlink(missing_ok=True)
        self._listener = socket.socket(socket.AF_UNIX)
        self._listener.bind(str(path))
        self._listener.listen()
        self._physics = physics
        self._server = server
        self.heard_ns = time.monotonic_ns()
        threading.Thread(target=self._accept, name="control", daemon=True).start()

    def _accept(self) -> None:
        while True:
            try:
                end, _ = self._listener.accept()
            except OSError:
                return
            threading.Thread(target=self._hear, args=(Wire(end),), daemon=True).start()

    def _hear(self, wire: Wire) -> None:
        with contextlib.closing(wire), contextlib.suppress(EOFError, GarbledError, OSError):
            while True:
                message = wire.receive()
                self.heard_ns = time.monotonic_ns()
                wire.send({"id": message.get("id"), "answer": self._answer(message)})
                if message.get("ask") == "end":
                    self._server.close()

    def _answer(self, message: Message) -> Any:
        match message.get("ask"), unpack(message.get("with", [])):
            case "stage", (Stage() as change,):
                self._physics.stage(change)
            case "press", _:
                with contextlib.suppress(RefusedError):
                    self._physics.expose(time.monotonic_ns(), by=BY_HAND)
        return True


def main(folder: Path) -> int:
    """Run until told to end."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    start = WireStart.from_json(json.loads(sys.stdin.readline()))
    # The observer must see a command when it comes, not when another thread lets it.
    sys.setswitchinterval(1e-4)
    if start.priority is not None:
        with contextlib.suppress(OSError):
            os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(start.priority))
    physics = Physics(start, AffineClock.started_now(1.0))
    server = Server(physics)
    control = Control(folder / CONTROL_NAME, physics, server)
    signal.signal(signal.SIGTERM, lambda *_: server.close())
    threading.Thread(target=_end_when_alone, args=(server, control), daemon=True).start()
    place = {"port": server.port, "pid": os.getpid(), "dialect": start.dialect}
    safe_write(folder / PLACE_NAME, json.dumps(place).encode())
    print(f"A simulated camera listens at 127.0.0.1:{server.port}.", flush=True)  # noqa: T201 - its keeper waits for it
    server.serve()
    physics.record.write()
    (folder / PLACE_NAME).unlink(missing_ok=True)
    return 0


def _end_when_alone(server: Server, control: Control) -> None:
    while True:
        time.sleep(_LOOK_S)
        if time.monotonic_ns() - max(server.client_seen_ns, control.heard_ns) > ALONE_S * 1e9:
            server.close()
            return


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
