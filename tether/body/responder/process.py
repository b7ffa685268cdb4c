"""The process of a simulated camera on the wire: ``python -m tether.body.responder.process FOLDER``.

What it is comes as JSON on standard input. It binds a loopback port, writes where it is into `FOLDER/wire.json`, says
so in a sentence, and listens at `FOLDER/wire.sock` for what the person at the tripod does. It ends when it is told to,
and by itself when nobody was heard of for long (see :mod:`tether.body.responder.control`); it outlives who started it,
so that the next one finds the same camera at the same port.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import sys
from pathlib import Path

from tether.body.responder.control import NAME as CONTROL_NAME
from tether.body.responder.control import Control
from tether.body.responder.physics import Physics
from tether.body.responder.server import Responder
from tether.body.responder.start import WireStart
from tether.body.scheduling import ask_for_short_turns
from tether.body.wire import unpack
from tether.files.safe import safe_write

PLACE_NAME = "wire.json"


def path_of(port: int) -> str:
    """Return where the camera library finds a camera, as it writes ports: the second is that for events."""
    return f"ptpip:127.0.0.1:{port}:{port}"


def serve(start: WireStart, folder: Path, ends_at: tuple[signal.Signals, ...] = (signal.SIGTERM,)) -> None:
    """Be a camera until told to end, also by signals; for a process's main thread."""
    # The observer must see a command when it comes, not when another thread lets it.
    sys.setswitchinterval(1e-4)
    ask_for_short_turns()
    if start.how.priority is not None:
        with contextlib.suppress(OSError):
            os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(start.how.priority))
    physics = Physics(start)
    server = Responder(physics, start.dialect)
    for number in ends_at:
        signal.signal(number, lambda *_: server.close())
    Control(folder / CONTROL_NAME, physics, server)
    place = {"port": server.port, "pid": os.getpid(), "dialect": start.dialect}
    safe_write(folder / PLACE_NAME, json.dumps(place).encode())
    where = path_of(server.port)
    print(f"A simulated camera on the wire listens at {where}", flush=True)  # noqa: T201 - its keeper waits for it
    server.serve()
    physics.record.write()
    for name in (PLACE_NAME, CONTROL_NAME):
        (folder / name).unlink(missing_ok=True)


def main(folder: Path) -> int:
    """Run for a keeper, until told to end."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    serve(unpack(json.loads(sys.stdin.readline())), folder)
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
