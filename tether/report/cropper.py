"""Has crops made for a face by a process of low priority, so that the face decodes no frame and never waits."""

from __future__ import annotations

import asyncio
import base64
import contextlib
import json
import sys
from collections import OrderedDict
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tether.errors import LostError
from tether.files.errors import UnreadableFileError
from tether.files.state import words_of
from tether.report.crops_asked import Crop, Shown, Survey, line_of, prepare_line

#: Crops that are kept.
_KEPT = 240
#: Longest answer of the process [bytes].
_LONGEST_ANSWER = 8 * 1024 * 1024
#: What those are answered who still wait when the process ends.
_ENDED: dict[str, Any] = {"ended": True}


class Cropper:
    """The process that makes crops, and its answers; it is begun when it is first needed, and again when it ends.

    Parameters
    ----------
    face
        Whose it is; what the process says last goes into the log of that name.
    """

    def __init__(self, face: str) -> None:
        self._face = face
        self.words: Path | None = None
        """Where the process leaves its last words."""
        self._process: asyncio.subprocess.Process | None = None
        self._outing: Path | None = None
        self._number = 0
        self._waited: dict[int, asyncio.Future[dict[str, Any]]] = {}
        self._made: OrderedDict[Crop, bytes] = OrderedDict()
        self._hearing: asyncio.Task[None] | None = None
        self._one_begins = asyncio.Lock()

    async def crop(self, outing: Path, asked: Crop) -> bytes:
        """Return a part of a frame as a JPEG. Raises as :meth:`survey` does."""
        if asked not in self._made:
            answer = await self._ask(outing, asked)
            self._made[asked] = base64.b64decode(answer["jpeg"])
            if len(self._made) > _KEPT:
                self._made.popitem(last=False)
        return self._made[asked]

    async def survey(self, outing: Path, asked: Survey) -> dict[str, Any]:
        """Return how large frames are, and where regions are.

        Raises
        ------
        UnreadableFileError
            If the frame can't be read.
        LostError
            If the process ended meanwhile.
        """
        return await self._ask(outing, asked)

    async def prepare(self, outing: Path, frames: Sequence[Shown]) -> None:
        """Have frames prepared while nothing is asked, in their order."""
        process = await self._begun(outing)
        if process.stdin is not None:
            with contextlib.suppress(ConnectionError):
                process.stdin.write(prepare_line(frames))

    async def _ask(self, outing: Path, asked: Crop | Survey) -> dict[str, Any]:
        process = await self._begun(outing)
        self._number += 1
        self._waited[self._number] = waited = asyncio.get_running_loop().create_future()
        if process.stdin is not None:
            with contextlib.suppress(ConnectionError):
                process.stdin.write(line_of(self._number, asked))
        answer: dict[str, Any] = await waited
        if answer == _ENDED:
            raise LostError("The process that makes pictures has ended; ask again.")
        if "problem" in answer:
            raise UnreadableFileError(answer["problem"])
        return answer

    async def _begun(self, outing: Path) -> asyncio.subprocess.Process:
        """Return the process of an outing; those who ask at once get one and the same."""
        async with self._one_begins:
            if self._process is None or self._outing != outing:
                await self.close()
                self._process = await self._started(outing)
                self._hearing = asyncio.create_task(self._hear(self._process))
                if self._outing != outing:
                    self._made.clear()
                self._outing = outing
            return self._process

    async def _hear(self, process: asyncio.subprocess.Process) -> None:
        """Hand on answers until the process ends; who still waits is told so."""
        try:
            while process.stdout is not None and (line := await process.stdout.readline()):
                answer = json.loads(line)
                waited = self._waited.pop(answer["id"], None)
                if waited is not None and not waited.done():
                    waited.set_result(answer)
            await process.wait()
        finally:
            self._process = None
            for waited in self._waited.values():
                if not waited.done():
                    waited.set_result(_ENDED)
            self._waited.clear()

    async def close(self) -> None:
        """End the process."""
        process = self._process
        if self._hearing is not None:
            self._hearing.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._hearing
        if process is not None and process.returncode is None:
            process.kill()
            await process.communicate()

    async def _started(self, outing: Path) -> asyncio.subprocess.Process:
        self.words, log = words_of(self._face, f"crops are made of {outing}")
        with log:
            return await asyncio.create_subprocess_exec(
                *(sys.executable, "-P", "-m", "tether.report.crops", str(outing)),
                stdin=asyncio.subprocess.PIPE,
                stdout=asyncio.subprocess.PIPE,
                stderr=log,
                limit=_LONGEST_ANSWER,
                start_new_session=True,  # no terminal's Ctrl-C is for it
            )
