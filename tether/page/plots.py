"""Pictures of the evening and of frames' levels on the page; processes of low priority work out what is in them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from tether.control.attachment import RunView
from tether.errors import TetherError
from tether.journal.codec import adapter_of
from tether.journal.readings import HistogramSaid
from tether.journal.story import FrameStory, Outing
from tether.journal.telling import OutingReader
from tether.page.answers import outing_of
from tether.page.pictures import Histograms
from tether.page.stands import JOURNAL_FILES, OfOuting
from tether.page.worked_out import worked_out
from tether.report.battery_picture import battery_picture
from tether.report.choosing import file_of
from tether.report.drawing import written
from tether.report.evening_asked import command_for, evening_in
from tether.report.evening_told import Evening, Present
from tether.report.histogram import histogram_picture
from tether.report.light_picture import light_picture
from tether.report.rungs_picture import rungs_picture

#: How wide a picture may be asked for [px].
LEAST_PX, MOST_PX = 280, 1400


class Plots:
    """What is answered of pictures of an evening and of its frames' levels.

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
        self._evening = OfOuting(_told, *JOURNAL_FILES)
        self._story = OfOuting(self._read_on, *JOURNAL_FILES)
        self._journal: OutingReader | None = None
        self._histograms = Histograms()

    def routes(self) -> list[Route]:
        """Return the addresses."""
        return [Route("/plots", self.plots), Route("/frames/{frame:int}/histogram.svg", self.histogram)]

    async def plots(self, request: Request) -> Response:
        """Answer with the pictures that there are, by name, as SVG; and with the run's moment that they show [s]."""
        width = _width(request)
        evening = await self._evening.now(outing_of(self._outing_now()))
        clock = self._sight().clock
        found = _drawn(evening, width, _present(self._sight(), evening)) if evening else {}
        pictures = [(name, svg) for name, svg in found.items() if svg is not None]
        return JSONResponse({"pictures": pictures, "drawn_s": clock.now_ns() / 1e9 if clock else None})

    async def histogram(self, request: Request) -> Response:
        """Answer with a frame's raw histogram; with nothing where it can't be read, or the run has still to do so.

        With ``?or=before`` that of the last one before it does then, as far as the run has read: it says which it is.
        """
        outing = outing_of(self._outing_now())
        number = request.path_params["frame"]
        story = await self._story.now(outing)
        frames = [one for ladder in story.ladders for one in ladder.frames] if story else []
        frame = next((one for one in frames if one.frame == number), None)
        if frame is None:
            raise HTTPException(404)
        if story is not None and story.running and frame.kind != "base":  # the run reads it, or has
            before = [one for one in frames if one.frame < number and one.histogram and "or" in request.query_params]
            frame = frame if frame.histogram or not before else before[-1]
            found = frame.histogram
        else:
            found = frame.histogram or await self._read(outing, frame)
        if found is None:
            return Response(status_code=204)
        picture = histogram_picture(found, frame.readings, frame.frame)
        return Response(written(picture), media_type="image/svg+xml")

    async def _read(self, outing: Path, frame: FrameStory) -> HistogramSaid | None:
        """Have a frame's histogram read from its file; None where that can't be."""
        name = file_of(frame)
        told = await self._histograms.of(outing, Path(name).name) if name else None
        if told is None:
            return None
        found: HistogramSaid = adapter_of(HistogramSaid).validate_json(told)
        return found

    async def _read_on(self, outing: Path) -> Outing | None:
        """Return what the journal tells, read on from where it was read; None where it can't be read."""
        if self._journal is None or self._journal.folder != outing:
            self._journal = OutingReader(outing)
        try:
            return await run_in_threadpool(self._journal.now)
        except TetherError:
            return None


def _drawn(evening: Evening, width: float, present: Present | None) -> dict[str, str | None]:
    now_s = present.at_s if present else None
    return {
        "rungs": rungs_picture(evening, width, present),
        "light": light_picture(evening, width, now_s),
        "battery": battery_picture(evening, width, now_s),
    }


def _present(sight: RunView, evening: Evening) -> Present | None:
    """Return how the run stands, by the time of day of its clock; None where none is attached, or it is over."""
    clock, snapshot = sight.clock, sight.snapshot
    if clock is None or evening.over or snapshot.over is not None:
        return None
    frame = snapshot.open
    span = tuple(clock.utc_of(at_ns).timestamp() for at_ns in (frame.at_ns, frame.closes_at_ns)) if frame else None
    rung = snapshot.rung.rung if snapshot.rung else None
    return Present(at_s=clock.utc().timestamp(), rung=rung, open=(span[0], span[1]) if span else None)


async def _told(outing: Path) -> Evening | None:
    """Have the course of an outing's evening worked out; None where there is none, or its journal can't be read."""
    told = await worked_out(command_for(outing), f"the course of the evening is worked out of {outing}")
    return None if told is None else evening_in(told)


def _width(request: Request) -> int:
    """Return how wide pictures are asked for [px]. Raises HTTPException where that is no width."""
    asked = request.query_params.get("w", "")
    if not (asked.isascii() and asked.isdigit() and len(asked) < 6):
        raise HTTPException(400)
    return min(max(int(asked), LEAST_PX), MOST_PX)
