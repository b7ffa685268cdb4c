"""Choosing by eye on the page: which frames there are, parts of them all alike, and what the person thinks of each."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any, TypeVar, get_args

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from tether.errors import LostError, TetherError
from tether.files.errors import UnreadableFileError
from tether.page.answers import body_of, outing_of, refusal, refused_by
from tether.page.stands import JOURNAL_FILES, OfOuting
from tether.report.choices import CHOICES_NAME, Choice, Verdict, choose, read_choices
from tether.report.choosing import Candidate, ToChoose, to_choose
from tether.report.cropper import Cropper
from tether.report.crops_asked import Crop, Survey
from tether.report.harmless import plain_data

#: The largest picture that is given [px].
MOST_PX = 1600
#: Pixels of the sensor in one of a picture that may be asked for, along each side; 0: the whole frame.
STEPS = (0, 1, 2, 4)
_KINDS = {"w": "water", "r": "rock"}
T = TypeVar("T")


class Choosing:
    """What is answered of choosing."""

    def __init__(self, outing: Callable[[], Path | None]) -> None:
        self._outing_now = outing
        self.cropper = Cropper("page")
        self._found = OfOuting(_to_choose, *JOURNAL_FILES, CHOICES_NAME)

    def routes(self) -> list[Route]:
        """Return the addresses."""
        return [
            Route("/candidates", self.candidates),
            Route("/crops/{frame:int}.jpg", self.crop),
            Route("/choose", self.choose, methods=["POST"]),
        ]

    async def candidates(self, request: Request) -> Response:
        """Answer with what there is to choose from, and where water and rock are; frames are prepared from then on."""
        outing = outing_of(self._outing_now())
        found = await self._found.now(outing)
        await self.cropper.prepare(outing, [one.shown for one in found.candidates])
        data = {
            "token": request.scope["session"].token,
            "may_choose": request.scope["session"].may_steer,
            "title": found.title,
            "simulated": found.simulated,
            "candidates": [_told(one) for one in found.candidates],
        }
        if found.candidates:
            frame = found.candidates[0].shown.base  # its head is needed for every crop
            seen = await _or_404(self.cropper.survey(outing, Survey(frame=frame, cells=found.cells, letters="wr")))
            data["size"] = seen["size"]
            data["places"] = {_KINDS[kind]: middle for kind, middle in seen["middles"].items() if middle}
        return JSONResponse(plain_data(data))

    async def crop(self, request: Request) -> Response:
        """Answer with a part of a frame."""
        outing = outing_of(self._outing_now())
        number = request.path_params["frame"]
        found = await self._found.now(outing)
        shown = next((one.shown for one in found.candidates if one.frame == number), None)
        if shown is None:
            raise HTTPException(404)
        across, down = (_number(request, name, 0.0, 1.0) for name in ("x", "y"))
        width, height, step = (int(_number(request, name, 0, MOST_PX)) for name in ("w", "h", "step"))
        if step not in STEPS or min(width, height) < 8:
            raise HTTPException(400)
        asked = Crop(of=shown, centre=(across, down), size=(width, height), step=step)
        return Response(await _or_404(self.cropper.crop(outing, asked)), media_type="image/jpeg")

    async def choose(self, request: Request) -> Response:
        """Keep what the person thinks of a frame."""
        body = await body_of(request)
        outing = outing_of(self._outing_now())
        number, verdict, note = body.get("frame"), body.get("choice"), body.get("note", "")
        if not isinstance(number, int) or not isinstance(note, str) or verdict not in (None, *get_args(Verdict)):
            return refusal("That is no choice: it is keep, maybe or no, of a frame.", status=400)
        if number not in {one.frame for one in (await self._found.now(outing)).candidates}:
            return refusal(f"There is no frame {number} to choose.", status=404)
        try:
            await run_in_threadpool(choose, outing, number, Choice(verdict=verdict, note=note))
            kept = (await run_in_threadpool(read_choices, outing)).get(number, Choice())
        except TetherError as error:
            return refused_by(error)
        return JSONResponse({"choice": kept.verdict, "note": kept.note})


async def _to_choose(outing: Path) -> ToChoose:
    """Read what there is to choose from. Raises HTTPException where that can't be read."""
    try:
        return await run_in_threadpool(to_choose, outing)
    except TetherError as error:
        raise HTTPException(409, " ".join(error.sentences)) from error


async def _or_404(answer: Awaitable[T]) -> T:
    """Return an answer of the process that makes crops. Raises HTTPException where the frame can't be read."""
    try:
        return await answer
    except (UnreadableFileError, LostError) as error:
        raise HTTPException(404, str(error)) from error


def _told(one: Candidate) -> dict[str, Any]:
    return {
        "frame": one.frame,
        "ladder": one.ladder,
        "rung": one.rung,
        "at": round(one.at_stops, 3),
        "time": one.time,
        "settings": one.settings,
        "says": list(one.says),
        "choice": one.choice.verdict,
        "note": one.choice.note,
    }


def _number(request: Request, name: str, least: float, most: float) -> float:
    """Return a number that was asked with. Raises HTTPException where it is none, or out of its range."""
    try:
        value = float(request.query_params[name])
    except (KeyError, ValueError):
        raise HTTPException(400) from None
    if not least <= value <= most:
        raise HTTPException(400)
    return value
