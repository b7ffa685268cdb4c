"""Pictures of the evening on the page, drawn for a width; a process of low priority works out what is in them."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import Callable
from pathlib import Path

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from tether.control.attachment import RunView
from tether.files.state import words_of
from tether.journal.codec import adapter_of
from tether.page.stands import JOURNAL_FILES, Stands, stands_of
from tether.report.evening_told import Evening
from tether.report.light_picture import light_picture

#: How wide a picture may be asked for [px].
LEAST_PX, MOST_PX = 280, 1400


class Plots:
    """What is answered of an evening's pictures.

    Parameters
    ----------
    outing
        Says which outing it is about; None: none.
    sight
        Says how its run stands.
    """

    def __init__(self, outing: Callable[[], Path | None], sight: Callable[[], RunView]) -> None:
        self._outing_now = outing
        self._sight = sight
        self._known: tuple[Path, Stands, Evening | None] | None = None
        self._one_at_a_time = asyncio.Lock()

    def routes(self) -> list[Route]:
        """Return the addresses."""
        return [Route("/plots", self.plots)]

    async def plots(self, request: Request) -> Response:
        """Answer with the pictures that there are, by name, as SVG; and with the run's moment that they show [s]."""
        width = _width(request)
        evening = await self._evening()
        clock = self._sight().clock
        now_s = clock.utc().timestamp() if clock and evening and not evening.over else None
        drawn_s = clock.now_ns() / 1e9 if clock else None
        pictures = {"light": light_picture(evening, width, now_s)} if evening else {}
        found = [(name, svg) for name, svg in pictures.items() if svg is not None]
        return JSONResponse({"pictures": found, "drawn_s": drawn_s})

    async def _evening(self) -> Evening | None:
        """Return the course of the evening, worked out anew where the journal has changed."""
        outing = self._outing_now()
        if outing is None:
            raise HTTPException(404)
        async with self._one_at_a_time:
            stands = stands_of(outing, *JOURNAL_FILES)
            if self._known is None or self._known[:2] != (outing, stands):
                self._known = outing, stands, await _told(outing)
            return self._known[2]


async def _told(outing: Path) -> Evening | None:
    """Have the course of an outing's evening worked out; None where there is none, or its journal can't be read."""
    _, log = words_of("page", f"the course of the evening is worked out of {outing}")
    with log:
        process = await asyncio.create_subprocess_exec(
            *(sys.executable, "-P", "-m", "tether.report.evening", str(outing)),
            stdout=asyncio.subprocess.PIPE,
            stderr=log,
        )
    try:
        told, _ = await process.communicate()
    finally:
        if process.returncode is None:  # nobody waits for it any more: the page was left, or the server ends
            process.kill()
            await process.communicate()
    if process.returncode or not told:
        return None
    found: Evening = adapter_of(Evening).validate_json(told)
    return found


def _width(request: Request) -> int:
    """Return how wide pictures are asked for [px]. Raises HTTPException where that is no width."""
    asked = request.query_params.get("w", "")
    if not (asked.isascii() and asked.isdigit() and len(asked) < 6):
        raise HTTPException(400)
    return min(max(int(asked), LEAST_PX), MOST_PX)
