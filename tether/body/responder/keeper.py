"""Starting, attaching to, and ending a simulated camera on the wire."""

from __future__ import annotations

import contextlib
import json
import os
import socket
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tether.body.dialects import MODELS
from tether.body.responder.control import NAME as CONTROL_NAME
from tether.body.responder.process import PLACE_NAME, path_of
from tether.body.responder.start import WireStart
from tether.body.staging import tell
from tether.body.wire import Wire, pack
from tether.errors import LostError
from tether.files.errors import disk_sentences
from tether.files.last_words import log_of, see_end, start_apart

LOG_NAME = "wire.log"
#: How long it may take to end [real s].
ENDS_WITHIN_S = 5.0


@dataclass(frozen=True, kw_only=True)
class WireCamera:
    """A simulated camera on the wire that runs until it is told to end.

    Attributes
    ----------
    port
        Its loopback port.
    path
        Where the camera library finds it, as it writes ports.
    model
        The library's name for it.
    control
        The socket at which it is told what the person does.
    line
        The line to it.
    process
        Its process; None where it was attached to.
    """

    port: int
    path: str
    model: str
    control: Path
    line: Wire = field(compare=False, repr=False)
    process: subprocess.Popen[bytes] | None = field(default=None, compare=False, repr=False)

    def tell(self, ask: str, *values: Any) -> None:
        """Tell it what the person does, as :mod:`tether.body.responder.control` has it. Raises LostError."""
        tell(self.line, ask, *values)

    def stop(self) -> None:
        """Tell it to end and see that it has; harmless when it had."""
        with contextlib.suppress(LostError):
            self.tell("end")
            # Its end of the line goes with its process.
            with contextlib.suppress(EOFError):
                self.line.receive_within(ENDS_WITHIN_S)
        self.line.close()
        if self.process is not None:
            see_end(self.process, ENDS_WITHIN_S)


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
        It does not start, or one of another dialect runs there.
    """
    with disk_sentences(folder):
        folder.mkdir(parents=True, exist_ok=True)
    running = _running(what, folder)
    process = None if running else _started(what, folder)
    port, line = running or _kept(what, folder)
    return WireCamera(
        port=port,
        path=path_of(port),
        model=MODELS[what.dialect],
        control=_short(folder / CONTROL_NAME),
        line=line,
        process=process,
    )


@contextmanager
def kept(what: WireStart, folder: Path) -> Iterator[WireCamera]:
    """Have a camera run for the block; one that runs at the folder already is used, and ended all the same."""
    camera = start(what, folder)
    try:
        yield camera
    finally:
        camera.stop()


def _running(what: WireStart, folder: Path) -> tuple[int, Wire] | None:
    """Return the port of the camera that runs at a folder, and a line to it; None where none does."""
    try:
        os.kill(json.loads((folder / PLACE_NAME).read_bytes())["pid"], 0)
        return _kept(what, folder)
    except (OSError, ValueError, KeyError):
        return None


def _kept(what: WireStart, folder: Path) -> tuple[int, Wire]:
    place = json.loads((folder / PLACE_NAME).read_bytes())
    if place["dialect"] != what.dialect:
        raise LostError(f"A simulated camera of another dialect, {place['dialect']}, runs at {folder}; end it first.")
    end = socket.socket(socket.AF_UNIX)
    try:
        end.connect(str(_short(folder / CONTROL_NAME)))
    except OSError:
        end.close()
        raise
    line = Wire(end)
    tell(line, "answer")  # one that hangs is said now
    return int(place["port"]), line


def _started(what: WireStart, folder: Path) -> subprocess.Popen[bytes]:
    with log_of(folder / LOG_NAME, "a simulated camera on the wire starts") as log:
        pipe = subprocess.PIPE
        process = start_apart("tether.body.responder.process", str(_short(folder)), log=log, stdin=pipe, stdout=pipe)
    if process.stdin is None or process.stdout is None:
        raise LostError("The simulated camera on the wire could not be started.")
    with process.stdin, process.stdout:
        process.stdin.write(json.dumps(pack(what)).encode() + b"\n")
        process.stdin.flush()
        said = process.stdout.readline()
    if not said:
        process.wait()
        raise LostError(f"The simulated camera on the wire did not start; what it said last is in {folder / LOG_NAME}.")
    return process


def _short(path: Path) -> Path:
    """Return a path as short as it can be written: a socket's may not be longer than some hundred characters."""
    with contextlib.suppress(ValueError):
        relative = path.absolute().relative_to(Path.cwd())
        return relative if len(str(relative)) < len(str(path.absolute())) else path.absolute()
    return path.absolute()
