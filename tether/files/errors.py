"""The errors of files, and sentences for what the operating system reports."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tether.errors import LostError, PlanError, SupplyError, TetherError, system_reason

_FULL = {errno.ENOSPC, errno.EDQUOT}
_FORBIDDEN = {errno.EACCES, errno.EPERM, errno.EROFS, errno.ENOENT, errno.ENOTDIR}


class UnreadableFileError(TetherError):
    """A file is missing, empty, damaged, cut short, or not what it should be."""


class NameTakenError(TetherError):
    """A file of that name is there already and is left as it is."""


@contextmanager
def disk_sentences(path: Path) -> Iterator[None]:
    """Turn errors of the operating system while `path` is written into sentences.

    Raises
    ------
    SupplyError
        The disk, or the share of it one may use, is full.
    PlanError
        The folder is missing or may not be written.
    LostError
        Anything else the disk reports.
    """
    try:
        yield
    except OSError as error:
        raise _as_sentence(error, path) from error


def _as_sentence(error: OSError, path: Path) -> TetherError:
    if error.errno in _FULL:
        return SupplyError(f"The disk is full: {path} could not be written. Free some space on it, then go on.")
    reason = system_reason(error)
    if error.errno in _FORBIDDEN:
        return PlanError(f"{path} could not be written ({reason}). Choose a folder that exists and may be written to.")
    return LostError(f"{path} could not be written: the disk reports “{reason}”.")
