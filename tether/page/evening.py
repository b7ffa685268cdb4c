"""An evening begun from the phone: plans, a draft of one of them, its run, and at the end the computer’s rest.

Plans are worked out by the draft process (:mod:`tether.editor.process`); the page passes wishes on and shows what came
of them. There is one draft for all phones.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from tether.control.registry import running
from tether.editor.client import Drafting
from tether.editor.known import Known, after
from tether.editor.messages import Begin, Begun, EditorEvent, EditorRequest, Save, Start, WishAnswer
from tether.editor.plans import FoundPlan, copied, found_plans
from tether.errors import TetherError
from tether.page.answers import body_of, page_of, refusal, refused_by
from tether.page.base_pictures import BasePictures
from tether.page.base_view import base_view
from tether.page.evening_view import draft_view, finish_view, plan_view, stopped_by
from tether.page.power import Power
from tether.page.wishes import wish_of
from tether.page.worked_out import said_by
from tether.report.harmless import plain_data

#: How long a wish is waited for before it is answered that it goes on [s].
ANSWERS_WITHIN_S = 3.0
#: How fast a rehearsal may go.
PACES = (1.0, 10.0, 60.0)
#: How long the end of an outing may take: a card is read, and files are copied [s].
FINISHES_WITHIN_S = 600.0
_PROGRAM = (sys.executable, "-P", "-m", "tether.command")
#: Exit codes of `tether finish` where it found how things are: nothing is missing, or something is.
_FINISHED = (0, 1)
Data = dict[str, Any]


@dataclass(frozen=True, kw_only=True)
class Places:
    """Where plans are looked for beside the user’s own folder, and where outings are made."""

    here: Path
    under: Path


class Evening:
    """What is answered of planning and beginning an evening. Used in the server’s loop only.

    Parameters
    ----------
    places
        Where plans and outings are.
    begun
        Told the outing of a run that was begun here.
    outing
        Says which outing the page shows now.
    """

    def __init__(self, places: Places, begun: Callable[[Path], None], outing: Callable[[], Path | None]) -> None:
        self._places = places
        self._begun_here = begun
        self._outing = outing
        self._power = Power(lambda: bool(running()))
        self._keeper: Drafting | None = None
        self._start: Start | None = None
        self._plan: FoundPlan | None = None
        self._known = Known()
        self._begun: str | None = None
        self._waiting: dict[int, asyncio.Future[WishAnswer]] = {}
        self._told = asyncio.Event()

    def routes(self) -> list[Route]:
        """Return the addresses."""
        return [
            Route("/evening", self.show),
            Route("/evening/plans", self.plans),
            Route("/evening/draft", self.draft),
            *BasePictures(lambda: self._known).routes(),
            Route("/evening/copy", self.copy, methods=["POST"]),
            Route("/evening/open", self.open, methods=["POST"]),
            Route("/evening/wish", self.wish, methods=["POST"]),
            Route("/evening/begin", self.begin, methods=["POST"]),
            Route("/evening/finish", partial(self.finish, ()), methods=["POST"]),
            Route("/evening/fetch", partial(self.finish, ("--fetch",)), methods=["POST"]),
            Route("/evening/resume", partial(self.run, ()), methods=["POST"]),
            Route("/evening/again", partial(self.run, ("--same-again",)), methods=["POST"]),
            Route("/evening/power", self.power),
            Route("/evening/shut-down", self.shut_down, methods=["POST"]),
        ]

    @property
    def has_begun(self) -> bool:
        """Whether a run was begun here."""
        return self._begun is not None

    async def show(self, _request: Request) -> Response:
        """Answer with the page."""
        return page_of("evening.html")

    async def plans(self, request: Request) -> Response:
        """Answer with the plans that there are."""
        found = await run_in_threadpool(found_plans, self._places.here)
        session = request.scope["session"]
        data = {"plans": [plan_view(one) for one in found], "token": session.token, "may_steer": session.may_steer}
        return JSONResponse(plain_data({**data, "paces": PACES, "open": self._start is not None}))

    async def draft(self, _request: Request) -> Response:
        """Answer with how the draft stands."""
        return self._stands()

    def _stands(self) -> Response:
        if self._start is None:
            return JSONResponse({"open": False, "plan": None, "begun": None})
        view = draft_view(self._known, self._start, datetime.now().astimezone())
        more = {"open": True, "begun": self._begun, "may_save": self._may_save(), "picture": base_view(self._known)}
        return JSONResponse(plain_data({**view, **more}))

    def _may_save(self) -> bool:
        return self._plan is not None and self._plan.where != "shipped"

    async def copy(self, request: Request) -> Response:
        """Copy a plan into the user’s own folder."""
        body = await body_of(request)
        plan, title = await self._meant(body), body.get("title")
        if not isinstance(title, str):
            raise HTTPException(400)
        try:
            made = await run_in_threadpool(copied, plan, title)
        except TetherError as error:
            return refused_by(error)
        return JSONResponse(plain_data(plan_view(made)))

    async def open(self, request: Request) -> Response:
        """Open a plan, or the one that is open in another way: with the camera, or as a rehearsal."""
        body = await body_of(request)
        pace = float(body["pace"]) if body.get("pace") in PACES else 1.0
        rehearse = body.get("rehearse") is True
        if body.get("plan") is None and self._start is not None:
            state = self._known.state
            unsaved = state.text if state and not state.saved else None
            start = replace(self._start, simulated=rehearse, pace=pace, text=unsaved)
        else:
            self._plan = await self._meant(body)
            start = Start(path=str(self._plan.path), simulated=rehearse, pace=pace, under=str(self._places.under))
        await self._open(start)
        return self._stands()

    async def _open(self, start: Start) -> None:
        self.close()
        self._start, self._known, self._begun = start, Known(), None
        self._told.clear()
        loop = asyncio.get_running_loop()
        self._keeper = keeper = Drafting(start, lambda news: later(loop, self._hear, keeper, news))
        keeper.open()
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(self._told.wait(), ANSWERS_WITHIN_S)

    def _hear(self, keeper: Drafting, news: EditorEvent) -> None:
        """Take in what the draft process told; what an earlier one says is not heard any more."""
        if keeper is not self._keeper:
            return
        self._known = after(self._known, news)
        self._told.set()
        if isinstance(news, Begun):
            self._begun = Path(news.outing).name
            self._begun_here(Path(news.outing))
        if isinstance(news, WishAnswer):
            waiting = [*self._waiting] if news.to == 0 else [news.to]
            for number in waiting:
                future = self._waiting.pop(number, None)
                if future is not None and not future.done():
                    future.set_result(news)
            if self._begun is not None:
                self.close()  # it has done its part, and the camera is the run's

    async def wish(self, request: Request) -> Response:
        """Pass a wish on, and answer with how the draft stands then."""
        body = await body_of(request)
        wish = wish_of(body)
        if wish is None:
            return refusal("That is no wish that is known here.", status=400)
        if isinstance(wish, Save) and not self._may_save():
            return refusal("This plan comes with Tether and stays as it is; copy it, and save the copy.", status=409)
        return await self._wished(wish)

    async def begin(self, request: Request) -> Response:
        """Begin the ladder as it is drafted; not where a check stops it that nobody gave a reason to go against."""
        body = await body_of(request)
        despite, who = body.get("despite", {}), body.get("who", "")
        if not isinstance(despite, dict) or not all(isinstance(one, str) for one in (who, *despite.values())):
            raise HTTPException(400)
        if self._known.state is None or self._known.state.ladder is None:
            return refusal("The plan has mistakes, or none is open; nothing is begun.", status=409)
        if not self._known.state.simulated and self._start is not None and self._start.pace != 1.0:
            return refusal("A camera works in real time; open the plan again without a pace.", status=409)
        if stops := stopped_by(self._known, despite):
            return refusal(f"Stopped by: {', '.join(stops)}. Put it right and check again, or say why not.", status=409)
        given = {what: why.strip() for what, why in despite.items() if why.strip()}
        return await self._wished(Begin(despite=given, who_knows=who))

    async def _wished(self, wish: EditorRequest) -> Response:
        if self._keeper is None:
            return refusal("No plan is open; open one first.", status=409)
        number = self._keeper.wish(wish)
        self._waiting[number] = answered = asyncio.get_running_loop().create_future()
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(asyncio.shield(answered), ANSWERS_WITHIN_S)
        return self._stands()

    async def _meant(self, body: Data) -> FoundPlan:
        """Return the plan that is meant; no part of a path comes from the browser. Raises HTTPException."""
        for plan in await run_in_threadpool(found_plans, self._places.here):
            if plan.key == body.get("plan"):
                return plan
        raise HTTPException(404)

    # Afterwards

    async def finish(self, options: Sequence[str], _request: Request) -> Response:
        """Say what is missing at the end of the outing, as `tether finish` does; not while its run is active.

        With ``--fetch`` what is on the card and not in the outing is copied before.
        """
        _, code, found, said = await self._at_outing("finish", "--json", *options)
        view = finish_view(json.loads(found)) if code in _FINISHED else {"found": [], "fetch": False}
        return JSONResponse(plain_data({**view, "said": "" if code in _FINISHED else said}))

    async def run(self, options: Sequence[str], _request: Request) -> Response:
        """Go on with the outing's last ladder, as `tether run` does; the page turns to its run.

        With ``--same-again`` a ladder like the last one is begun for a new composition.
        """
        outing, code, *said = await self._at_outing("run", "--detach", *options)
        if code == 0:
            self._begun = outing.name
            self._begun_here(outing)
        return JSONResponse(plain_data({"said": "".join(said), "done": code == 0}))

    async def _at_outing(self, command: str, *options: str) -> tuple[Path, int, str, str]:
        """Have a command of the program do its work on the outing; return that, the exit code, and what it said.

        Raises HTTPException where it can't be begun, or takes too long.
        """
        outing = self._outing()
        if outing is None:
            raise HTTPException(409, "No outing has begun yet.")
        if any(one.outing == outing.resolve() for one in running()):
            raise HTTPException(409, "Its run is still active; wait until it is over.")
        self.close()  # the camera is needed
        pipe = subprocess.PIPE
        process = subprocess.Popen(  # noqa: S603 - our own
            (*_PROGRAM, command, str(outing), *options), stdin=subprocess.DEVNULL, stdout=pipe, stderr=pipe
        )
        try:
            found, said = await said_by(process, FINISHES_WITHIN_S)
        except TimeoutError as error:
            raise HTTPException(409, "The camera has not answered; look at it, or go to the computer.") from error
        return outing, process.returncode, found.decode(errors="replace"), said.decode(errors="replace")

    async def power(self, _request: Request) -> Response:
        """Say whether the computer may be shut down from here."""
        may = await run_in_threadpool(self._power.may)
        return JSONResponse(plain_data({"allowed": may.allowed, "sentence": may.sentence}))

    async def shut_down(self, request: Request) -> Response:
        """Shut the computer down, where that was confirmed, no run goes on and the system allows it."""
        if (await body_of(request)).get("sure") is not True:
            return refusal("This has to be confirmed.", status=400)
        try:
            await run_in_threadpool(self._power.shut_down)
        except TetherError as error:
            return refused_by(error)
        return JSONResponse({"sentence": "The computer shuts down. This page ends with it."})

    def close(self) -> None:
        """End the draft process, which lets the camera go."""
        keeper, self._keeper = self._keeper, None
        if keeper is not None:
            keeper.close()


def later(loop: asyncio.AbstractEventLoop, act: Callable[..., None], *given: object) -> None:
    """Have something done in the server’s loop; nothing once that has ended."""
    with contextlib.suppress(RuntimeError):
        loop.call_soon_threadsafe(partial(act, *given))
