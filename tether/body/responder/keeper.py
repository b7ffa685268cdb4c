"""Starting, attaching to, and ending a simulated camera on the wire."""

from __future__ import annotations

import contextlib
import json
import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tether.body.protocol import Stage
from tether.body.responder.process import CONTROL_NAME, PLACE_NAME
from tether.body.responder.start import MODELS, WireStart
from tether.body.wire import Wire, pack
from tether.errors import LostError
from tether.files.errors import disk_sentences

LOG_NAME = "wire.log"
#: How long it may take to answer, and to end [real s].
ANSWERS_WITHIN_S, ENDS_WITHIN_S = 10.0, 5.0


@dataclass(frozen=True, kw_only=True)
class WireCamera:
    """A simulated camera on the wire that runs.

    Attributes
    ----------
    path
        Where the camera library finds it, as it writes ports.
    model
        The library's name for it.
    control
        The socket at which it is told what the person does.
    process
        Its process; None where it was attached to.
    """

    path: str
    model: str
    control: Path
    process: subprocess.Popen[bytes] | None = field(default=None, compare=False, repr=False)

    def stage(self, change: Stage) -> None:
        """Tell it what the person did at the tripod. Raises LostError."""
        self._tell("stage", pack(change))

    def press(self) -> None:
        """Press the body's own button. Raises LostError."""
        self._tell("press")

    def end(self) -> None:
        """Tell it to end and see that it has; harmless when it had."""
        with contextlib.suppress(LostError):
            self._tell("end")
        if self.process is not None:
            try:
                self.process.wait(ENDS_WITHIN_S)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()

    def _tell(self, ask: str, *values: Any) -> None:
        try:
            with socket.socket(socket.AF_UNIX) as end:
                end.connect(str(self.control))
                wire = Wire(end)
                wire.send({"id": 1, "ask": ask, "with": list(values)})
                if wire.receive_within(ANSWERS_WITHIN_S) is not None:
                    return
        except (OSError, EOFError) as error:
            raise LostError("The simulated camera on the wire is gone.") from error
        raise LostError("The simulated camera on the wire does not answer.")


def start(what: WireStart, folder: Path) -> WireCamera:
    """Start a camera, or attach to the one that runs at this folder already.

    Parameters
    ----------
    what
        What it is; its choice's folder is where the body behind it is kept.
    folder
        Where its socket and its place are kept; made if need be.

    Raises
    ------
    LostError
        It does not start.
    """
    with disk_sentences(folder):
        folder.mkdir(parents=True, exist_ok=True)
    port, process = _running(folder), None
    if port is None:
        port, process = _started(what, folder)
    return WireCamera(
        path=f"ptpip:127.0.0.1:{port}:{port}",
        model=MODELS[what.dialect],
        control=_short(folder / CONTROL_NAME),
        process=process,
    )


def _running(folder: Path) -> int | None:
    """Return the port of a camera that runs at a folder; None where none does."""
    try:
        place = json.loads((folder / PLACE_NAME).read_bytes())
        os.kill(place["pid"], 0)
        with socket.socket(socket.AF_UNIX) as end:
            end.connect(str(_short(folder / CONTROL_NAME)))
    except (OSError, ValueError, KeyError):
        return None
    return int(place["port"])


def _started(what: WireStart, folder: Path) -> tuple[int, subprocess.Popen[bytes]]:
    with (folder / LOG_NAME).open("wb") as log:
        process = subprocess.Popen(
            [sys.executable, "-P", "-m", "tether.body.responder.process", str(_short(folder))],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=log,
            start_new_session=True,
        )
    if process.stdin is None or process.stdout is None:
        raise LostError("The simulated camera on the wire could not be started.")
    with process.stdin, process.stdout:
        process.stdin.write(json.dumps(what.as_json()).encode() + b"\n")
        process.stdin.flush()
        said = process.stdout.readline()
    if not said:
        process.wait()
        raise LostError(f"The simulated camera on the wire did not start; what it said last is in {folder / LOG_NAME}.")
    return int(json.loads((folder / PLACE_NAME).read_bytes())["port"]), process


def _short(path: Path) -> Path:
    """Return a path as short as it can be written: a socket's may not be longer than some hundred characters."""
    with contextlib.suppress(ValueError):
        relative = path.absolute().relative_to(Path.cwd())
        return relative if len(str(relative)) < len(str(path.absolute())) else path.absolute()
    return path.absolute()


@contextmanager
def kept(what: WireStart, folder: Path) -> Iterator[WireCamera]:
    """Have a camera run for the block; one that runs at the folder already is used, and ended all the same."""
    camera = start(what, folder)
    try:
        yield camera
    finally:
        camera.end()
