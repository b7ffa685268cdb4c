"""Reading a frame's levels in a process of its own: ``python -m tether.frames.reading FILE`` prints them as JSON.

It runs at low priority, so that nothing of it disturbs what the camera is doing.
"""

from __future__ import annotations

import json
import os
import sys
from math import isinf
from pathlib import Path
from typing import Any

from tether.errors import TetherError
from tether.files.raw import read_raw
from tether.frames.levels import levels

#: Of ten steps of politeness, as a system counts it.
_POLITE = 10
PROBLEM = "problem"


def read_frame(path: Path) -> dict[str, Any]:
    """Return the levels of a raw frame as JSON data; where it can't be read, a sentence under `PROBLEM`.

    `headroom_stops` is null where more than may clip does, and where nothing is above black; `clipped_share` tells.
    """
    try:
        found = levels(read_raw(path))
    except TetherError as error:
        return {PROBLEM: str(error)}
    return {
        "headroom_stops": _finite(found.headroom_stops),
        "clipped_share": found.clipped_share,
        "channels": {
            channel: {
                "mean": one.mean,
                "clipped_share": one.clipped_share,
                "headroom_stops": _finite(one.headroom_stops),
            }
            for channel, one in found.channels.items()
        },
    }


def _finite(stops: float | None) -> float | None:
    return None if stops is None or isinf(stops) else stops


if __name__ == "__main__":
    os.nice(_POLITE)
    sys.stdout.write(json.dumps(read_frame(Path(sys.argv[1]))))
