"""Has crops made by the process that makes them, one after another, where nothing else is to be done meanwhile."""

from __future__ import annotations

import base64
import json
import subprocess
from pathlib import Path
from typing import Any, Self

from tether.errors import LostError
from tether.files.last_words import start_apart
from tether.files.state import words_of
from tether.report.crops_asked import Crop, Survey, line_of


class CropsProcess:
    """The process of low priority that decodes the frames of an outing; a context manager.

    Parameters
    ----------
    outing
        The outing's folder; nothing in it is changed.
    """

    def __init__(self, outing: Path) -> None:
        self._outing = outing
        self._number = 0

    def __enter__(self) -> Self:
        self._words, log = words_of("sheet", f"crops are made of {self._outing}")
        with log:
            self._process = start_apart(
                "tether.report.crops", str(self._outing), log=log, stdin=subprocess.PIPE, stdout=subprocess.PIPE
            )
        return self

    def __exit__(self, *_: object) -> None:
        self._process.kill()
        self._process.communicate()

    def crop(self, asked: Crop) -> bytes | None:
        """Return a part of a frame as a JPEG; None where the frame can't be read. Raises as :meth:`survey` does."""
        answer = self._ask(asked)
        return base64.b64decode(answer["jpeg"]) if "jpeg" in answer else None

    def survey(self, asked: Survey) -> dict[str, Any] | None:
        """Return how large frames are, and where regions are; None where the frame can't be read.

        Raises
        ------
        LostError
            If the process ended.
        """
        answer = self._ask(asked)
        return None if "problem" in answer else answer

    def _ask(self, asked: Crop | Survey) -> dict[str, Any]:
        self._number += 1
        ours, theirs = self._process.stdin, self._process.stdout
        try:
            if ours is None or theirs is None:
                raise BrokenPipeError
            ours.write(line_of(self._number, asked))
            ours.flush()
            answer: dict[str, Any] = json.loads(theirs.readline())
        except (OSError, ValueError) as error:
            said = f"; what it said last is in {self._words}" if self._words else ""
            raise LostError(f"The process that makes pictures of frames has ended{said}.") from error
        return answer
