"""The folder of what outlives a run but belongs to no outing."""

from __future__ import annotations

import os
from pathlib import Path

from tether.errors import SupplyError


def state_folder() -> Path:
    """Return the folder, made if need be (XDG Base Directory Specification).

    Raises
    ------
    SupplyError
        If it cannot be made.
    """
    given = Path(os.environ.get("XDG_STATE_HOME", ""))
    folder = (given if given.is_absolute() else Path.home() / ".local" / "state") / "tether"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise SupplyError(f"{folder}: cannot be made: {(error.strerror or 'unknown reason').lower()}.") from error
    return folder
