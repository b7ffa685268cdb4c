"""The errors of the product, sorted by what the person must do about them.

::

    TetherError
    ├── PlanError     mend the plan, the file or the command line
    ├── CameraError   mend something at the camera (mode, cable, setting, permission)
    ├── SupplyError   fit or free something (card, battery, disk, filter)
    ├── BusyError     wait, then try again
    └── LostError     give up: nothing more can be done from here

Every error carries one or more sentences a person can act on. Codes of a driver stay inside the driver.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from typing import ClassVar


class TetherError(Exception):
    """Base of all errors of the product.

    Parameters
    ----------
    *sentences
        What is wrong, where, and what to do, one sentence or more each; never empty.
    """

    exit_code: ClassVar[int] = 4
    kind: ClassVar[str] = "error"

    def __init__(self, *sentences: str) -> None:
        super().__init__(*sentences)
        self.sentences: tuple[str, ...] = sentences

    def __str__(self) -> str:
        return "\n".join(self.sentences)


class PlanError(TetherError):
    """The plan, a file given by the person, or the command line must be mended."""

    exit_code = 2
    kind = "plan"


class CameraError(TetherError):
    """Something at the camera must be put right by the person."""

    exit_code = 3
    kind = "camera"


class SupplyError(TetherError):
    """Something must be fitted, charged or freed: card, battery, disk, filter."""

    exit_code = 3
    kind = "supply"


class BusyError(TetherError):
    """Nothing is wrong but time: wait and try again."""

    exit_code = 3
    kind = "busy"


class LostError(TetherError):
    """Nothing more can be done from here."""

    exit_code = 4
    kind = "lost"


_BY_KIND: dict[str, type[TetherError]] = {
    kind.kind: kind for kind in (PlanError, CameraError, SupplyError, BusyError, LostError)
}


def exit_code_of(kind: str | None) -> int:
    """Return the exit code of a kind of error; None or a kind that is not known counts as given up."""
    return _BY_KIND.get(kind or "", LostError).exit_code


def error_of(kind: str, sentences: Iterable[str]) -> TetherError:
    """Rebuild an error that crossed a pipe or the journal from its kind and sentences."""
    return _BY_KIND.get(kind, LostError)(*sentences)


def system_reason(error: OSError) -> str:
    """Return what the operating system says is wrong, in lower case and without the file's name."""
    return (os.strerror(error.errno) if error.errno else str(error)).lower()
