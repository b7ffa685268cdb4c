"""Telling a simulated camera on the wire what the person did at the tripod, beside the session with it."""

from __future__ import annotations

import contextlib
import socket
from pathlib import Path
from typing import Any

from tether.body.protocol import SceneChange
from tether.body.wire import Wire, pack
from tether.errors import LostError

#: How long it may take to answer [real s].
WITHIN_S = 10.0


def tell_stage(path: Path, change: SceneChange) -> None:
    """Tell it at its socket what is in front of the lens and in the body. Raises LostError."""
    with socket.socket(socket.AF_UNIX) as end:
        with contextlib.suppress(OSError):  # that it is gone is said by the first word to it
            end.connect(str(path))
        tell(Wire(end), "stage", change)


def tell(line: Wire, what: str, *values: Any) -> None:
    """Tell it something, as :mod:`tether.body.responder.control` has it, and wait until it has. Raises LostError."""
    try:
        line.send({"id": 1, "ask": what, "with": pack(values)})
        with contextlib.suppress(EOFError):
            if line.receive_within(WITHIN_S) is not None:
                return
    except OSError as error:
        raise LostError("The simulated camera on the wire is gone.") from error
    raise LostError("The simulated camera on the wire does not answer.")
