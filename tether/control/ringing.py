"""A sound at the computer when it is the person's turn: a command of their own, beside the terminal's bell."""

from __future__ import annotations

import shlex
import shutil
import subprocess
import threading
from collections.abc import Sequence

from tether.errors import PlanError, system_reason

#: No ring lasts longer than this [s].
LONGEST_S = 5.0


class Ringer:
    """Rings by a command. Nothing waits for it; one that is still ringing rings on instead of anew.

    Parameters
    ----------
    words
        The command and its arguments; no shell reads them. It is ended after `LONGEST_S`.
    """

    def __init__(self, words: Sequence[str]) -> None:
        self._words = tuple(words)
        self._ringing: threading.Thread | None = None
        #: What went wrong when it rang last, as a sentence; empty: nothing.
        self.trouble = ""

    def ring(self) -> None:
        """Ring."""
        if self._ringing is None or not self._ringing.is_alive():
            self._ringing = threading.Thread(target=self._ring, name="ringing", daemon=True)
            self._ringing.start()

    def wait(self) -> None:
        """Wait until the ring that was begun last is over."""
        if self._ringing is not None:
            self._ringing.join()

    def _ring(self) -> None:
        none = subprocess.DEVNULL
        try:
            done = subprocess.run(  # noqa: S603 - the person's own command, without a shell
                self._words, timeout=LONGEST_S, stdin=none, stdout=none, stderr=none, check=False
            )
        except subprocess.TimeoutExpired:
            self.trouble = ""
        except OSError as error:
            self.trouble = f"It does not ring by {self._words[0]}: {system_reason(error)}."
        else:
            self.trouble = f"It may not have rung: {self._words[0]} failed." if done.returncode else ""


def ringer_of(command: str | None) -> Ringer | None:
    """Return what rings by a command, written as in a terminal; None where none is named.

    Raises
    ------
    PlanError
        If it can't be read, or there is no such command.
    """
    if not command:
        return None
    try:
        words = shlex.split(command)
    except ValueError as error:
        raise PlanError(f"--ring-by {command}: a quotation mark is open.") from error
    if not words or shutil.which(words[0]) is None:
        raise PlanError(f"--ring-by {command}: there is no such command; name one that sounds, with its file.")
    return Ringer(words)
