"""Telling a simulated camera on the wire what the person did at the tripod, beside the session with it."""

from __future__ import annotations

import contextlib
import socket
from pathlib import Path

from tether.body.protocol import SceneChange
from tether.body.wire import Wire, pack
from tether.errors import LostError

#: How long it may take to answer [real s].
WITHIN_S = 10.0


def tell_stage(path: Path, change: SceneChange) -> None:
    """Tell it, and wait until it has heard. Raises LostError."""
    try:
        with socket.socket(socket.AF_UNIX) as end:
            end.connect(str(path))
            wire = Wire(end)
            wire.send({"id": 1, "ask": "stage", "with": [pack(change)]})
            with contextlib.suppress(EOFError):
                if wire.receive_within(WITHIN_S) is not None:
                    return
    except OSError as error:
        raise LostError("The simulated camera on the wire is gone.") from error
    raise LostError("The simulated camera on the wire does not answer.")
