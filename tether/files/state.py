"""The folders of what outlives a run but belongs to no outing, and the last words of processes that belong to none."""

from __future__ import annotations

import os
from pathlib import Path
from typing import BinaryIO

from tether.errors import SupplyError, system_reason
from tether.files.last_words import log_of


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
        raise SupplyError(f"{folder}: cannot be made: {system_reason(error)}.") from error
    return folder


def data_folder() -> Path:
    """Return the folder of what the user gathers over outings (XDG Base Directory Specification); it need not exist."""
    from platformdirs import user_data_path  # only what remembers outings needs it

    return user_data_path("tether", appauthor=False)


def words_of(name: str, what: str) -> tuple[Path | None, BinaryIO]:
    """Open the log of a process that belongs to no outing, and say where it is; None, and nowhere, if it can't be kept.

    Parameters
    ----------
    name
        Of the log, without its ending.
    what
        What begins, for its dated line.
    """
    try:
        path = state_folder() / f"{name}.log"
        return path, log_of(path, what)
    except (SupplyError, OSError):
        return None, Path(os.devnull).open("wb")
