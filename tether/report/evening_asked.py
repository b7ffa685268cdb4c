"""How a face asks for the course of an evening, which a process of low priority works out, and reads the answer."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from tether.files.state import words_of
from tether.journal.codec import adapter_of
from tether.report.evening_told import Evening


def command_for(outing: Path) -> tuple[str, ...]:
    """Return the command that prints the course of an outing's evening; see :mod:`tether.report.evening`."""
    return sys.executable, "-P", "-m", "tether.report.evening", str(outing)


def evening_in(told: bytes) -> Evening | None:
    """Return the evening that was printed; None where nothing was."""
    if not told:
        return None
    found: Evening = adapter_of(Evening).validate_json(told)
    return found


def ask_evening(outing: Path, face: str) -> Evening | None:
    """Wait for the course of an outing's evening; None where there is none, or its journal can't be read.

    What goes wrong is in the log of the face.
    """
    _, log = words_of(face, f"the course of the evening is worked out of {outing}")
    with log:
        words = command_for(outing)
        done = subprocess.run(words, stdout=subprocess.PIPE, stderr=log, check=False)  # noqa: S603 - our own interpreter
    return evening_in(done.stdout) if done.returncode == 0 else None
