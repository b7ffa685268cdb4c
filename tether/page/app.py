"""The page's few addresses, and the guard before them: nobody gets anything but 403 without the secret of a link.

What a browser sends is answered with 403 unless it names this server's own host, comes with the secret, and, to do
anything, is a POST from the page itself with the token that only the page can read.
"""

from __future__ import annotations

import asyncio
import base64
import contextlib
import hashlib
import hmac
from collections.abc import Callable, Collection
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response, StreamingResponse
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from tether.control.commands import Verb, verb_of_words
from tether.errors import TetherError
from tether.page.answers import HEADERS, STATIC, body_of, outing_of, page_of, picture_of, refusal, refused_by
from tether.page.choosing import Choosing
from tether.page.crowd import Crowd
from tether.page.doors import BrowserSession, Doors
from tether.page.evening import Evening
from tether.page.feed import Feed
from tether.page.pictures import live_picture
from tether.page.plots import Plots
from tether.page.view import about
from tether.report.harmless import plain

#: A browser keeps its cookie so long [s]; it is void as soon as this process ends.
_COOKIE_S = 24 * 3600
TOKEN_HEADER = "x-tether-token"  # noqa: S105 - the name of a header
_ENTER = "/enter"
#: What is given as it is: all beside the pages themselves.
_KINDS = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}
_FILES = {file.name: _KINDS[file.suffix] for file in STATIC.iterdir() if file.suffix in _KINDS}
_POLICY = (
    "default-src 'none'; script-src {}; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_READ_ALONG = "What is shown here goes over the network unencrypted: others in it can read along."
_ENCRYPTED = "What is shown here goes over the network encrypted, by your own certificate."
#: The token stands behind “#”, so a browser sends it to nobody by itself, and whoever looks ahead at a link uses it up
#: for nobody: only this script does, by POST.
_DOOR_SCRIPT = """
const said = document.querySelector("p");
async function enter() {
  const token = location.hash.slice(1);
  history.replaceState(null, "", "/");
  if (!token) return;
  said.textContent = "Opening…";
  const headers = {"Content-Type": "application/json"};
  try {
    const answer = await fetch("/enter", {method: "POST", headers, body: JSON.stringify({token})});
    if (answer.ok) location.replace("/");
    else said.textContent = await answer.text();
  } catch {
    said.textContent = "The page’s server does not answer. Open the link again.";
  }
}
addEventListener("hashchange", enter);
enter();
"""
_NEW_LINK = "Press Enter where “tether page” runs, and open the new link that it shows."
_DOOR = f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>Tether</title></head>
<body><h1>Tether</h1><p>This page opens by its link only. {_NEW_LINK}</p><script>{_DOOR_SCRIPT}</script></body></html>
"""
_DOOR_POLICY = _POLICY.format(f"'sha256-{base64.b64encode(hashlib.sha256(_DOOR_SCRIPT.encode()).digest()).decode()}'")


#: What is offered once a run is over, where evenings are begun from the page.
_AFTER = """
    <div id="after" hidden>
      <button id="resume" type="button">
        <b>Resume the ladder</b><small>what is left of it; press and hold for a second</small>
      </button>
      <p id="resumed" role="status"></p>
      <a href="/evening#after">Choose, finish, shut the computer down</a>
    </div>"""


def make_app(
    feed: Feed,
    doors: Doors,
    say: Callable[[Verb], str],
    *,
    hosts: Collection[str],
    cookie: str,
    on_network: bool,
    plots: Plots,
    crowd: Crowd,
    choosing: Choosing,
    evening: Evening | None = None,
) -> ASGIApp:
    """Return the page's server.

    Parameters
    ----------
    feed, doors, say
        What browsers are told, who may come in, and how the run is told a word.
    hosts
        What browsers may call this server: address and port.
    cookie
        The name of the cookie.
    on_network
        Whether others than this machine can reach it; the page says then that it can be read along.
    plots
        What is answered of pictures of the evening.
    crowd
        The strangers' connections; those of who holds a link are none.
    choosing
        What is answered of choosing by eye.
    evening
        What is answered of planning and beginning; None: the page is of one outing only.
    """
    page = _Page(feed=feed, doors=doors, tell=say, cookie=cookie, on_network=on_network, evening=evening)
    routes = [
        Route("/", page.show),
        Route("/static/{name}", page.static),
        Route("/favicon.ico", page.icon),
        Route("/events", page.events),
        Route("/frames/{frame:int}/preview.jpg", page.preview),
        Route("/regions.jpg", page.regions),
        Route("/live.jpg", page.live),
        *plots.routes(),
        Route(_ENTER, page.enter, methods=["POST"]),
        Route("/say", page.say, methods=["POST"]),
        Route("/choosing", page.choosing),
        *choosing.routes(),
        *(evening.routes() if evening else ()),
    ]
    return _Guard(app=Starlette(routes=routes), doors=doors, hosts=frozenset(hosts), cookie=cookie, crowd=crowd)


@dataclass(frozen=True, kw_only=True)
class _Guard:
    """Stands before all addresses; what passes has a session in its scope, or asks for one."""

    app: ASGIApp
    doors: Doors
    hosts: frozenset[str]
    cookie: str
    crowd: Crowd

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return
        request = Request(scope)
        session = self.doors.session(request.cookies.get(self.cookie))
        if session is not None and scope["client"] is not None:
            self.crowd.is_known(tuple(scope["client"]))
        refused = self._refused(request, session)
        if refused is not None:
            await refused(scope, receive, send)
            return
        scope["session"] = session
        try:
            await self.app(scope, receive, _with_headers(send))
        except asyncio.CancelledError:  # the page ends while this is worked out
            with contextlib.suppress(RuntimeError):  # it was being sent already
                await refusal("The page has ended.", status=503)(scope, receive, send)

    def _refused(self, request: Request, session: BrowserSession | None) -> Response | None:
        host = request.headers.get("host", "")
        if host not in self.hosts or len(request.headers.getlist("host")) != 1:
            return refusal("This server goes by another name.")
        posts = request.method == "POST"
        if not _of_this_page(request, posts=posts):
            return refusal("Only the page itself may ask for this.")
        if posts and request.url.path == _ENTER:
            return None
        if session is None:
            return _door() if request.method == "GET" and request.url.path == "/" else refusal("Open the link first.")
        if not posts:
            return None if request.method == "GET" else refusal("Only GET and POST are answered.", status=405)
        if not hmac.compare_digest(request.headers.get(TOKEN_HEADER, "").encode(), session.token.encode()):
            return refusal("The page’s token is missing or wrong; load the page again.")
        return None if session.may_steer else refusal("This phone may watch only.")


def _of_this_page(request: Request, *, posts: bool) -> bool:
    """Say whether a request comes from this page, or (GET only) from the person: an address typed, a link opened."""
    site = request.headers.get("sec-fetch-site")
    origin = request.headers.get("origin")
    own = f"{request.url.scheme}://{request.headers['host']}"
    if posts:
        kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
        return origin == own and site in (None, "same-origin") and kind == "application/json"
    return origin in (None, own) and (site in (None, "same-origin", "none") or _is_door(request))


def _is_door(request: Request) -> bool:
    """Say whether a link is opened: wherever it stood, the page may be shown, to whoever has the secret."""
    return request.url.path == "/" and request.headers.get("sec-fetch-mode") == "navigate"


def _door() -> Response:
    return HTMLResponse(_DOOR, 403, headers={**HEADERS, "Content-Security-Policy": _DOOR_POLICY})


def _with_headers(send: Send) -> Send:
    extra = {**HEADERS, "Content-Security-Policy": _POLICY.format("'self'")}
    ours = [(name.lower().encode(), value.encode()) for name, value in extra.items()]

    async def sending(message: Any) -> None:
        if message["type"] == "http.response.start":
            message["headers"] = [*message["headers"], *ours]
        await send(message)

    return sending


@dataclass(frozen=True, kw_only=True)
class _Page:
    """What is answered at each address; what it is made of is told by :func:`make_app`."""

    feed: Feed
    doors: Doors
    tell: Callable[[Verb], str]
    cookie: str
    on_network: bool
    evening: Evening | None

    async def show(self, request: Request) -> Response:
        if self.evening and not self.evening.has_begun and self.feed.sight.outing is None:
            return RedirectResponse("/evening", 303)
        over_network = _ENCRYPTED if _is_encrypted(request) else _READ_ALONG
        read_along = over_network if self.on_network else "This page can be reached from this machine only."
        plans = '<a href="/evening">Plans</a>' if self.evening else ""
        return page_of("page.html", read_along=read_along, plans=plans, after=_AFTER if self.evening else "")

    async def choosing(self, _request: Request) -> Response:
        return page_of("choosing.html")

    async def static(self, request: Request) -> Response:
        return _static(request.path_params["name"])

    async def icon(self, _request: Request) -> Response:
        return _static("icon.svg")

    async def events(self, request: Request) -> Response:
        if self.feed.full:
            return refusal("Too many phones watch already; close the page on one of them.", status=503)
        last = request.headers.get("last-event-id") or request.query_params.get("last")
        stream = self.feed.listen(request.scope["session"], last)
        return StreamingResponse(stream, media_type="text/event-stream")

    async def preview(self, request: Request) -> Response:
        name = self._name_of(request)
        return picture_of(outing_of(self.feed.sight.outing) / "previews" / f"{name.rsplit('.', 1)[0]}.jpg")

    async def regions(self, _request: Request) -> Response:
        shown = self.feed.sight.snapshot.regions
        outing = outing_of(self.feed.sight.outing)
        return picture_of(outing / shown.picture if shown and shown.picture else None)

    async def live(self, request: Request) -> Response:
        if not request.scope["session"].may_steer:
            return refusal("Live view is shown to phones that may steer.")
        return picture_of(live_picture())

    def _name_of(self, request: Request) -> str:
        """Return the name of a frame that the run has told of; no part of a path comes from the browser."""
        number = request.path_params["frame"]
        for frame in self.feed.sight.snapshot.frames:
            if frame.frame == number and frame.name:
                return Path(frame.name).name
        raise HTTPException(404)

    async def enter(self, request: Request) -> Response:
        token = (await body_of(request)).get("token")
        secret = self.doors.enter(token) if isinstance(token, str) else None
        if secret is None:
            return refusal(f"This link was used before, or is none of this page’s. {_NEW_LINK}")
        response = Response(status_code=204)
        response.set_cookie(
            self.cookie,
            secret,
            max_age=_COOKIE_S,
            path="/",
            secure=_is_encrypted(request),
            httponly=True,
            samesite="strict",
        )
        return response

    async def say(self, request: Request) -> Response:
        body = await body_of(request)
        verb = verb_of_words(body["verb"]) if isinstance(body.get("verb"), str) else None
        if verb is None:
            return refusal("That is no word to a run.", status=400)
        if late := self._late(verb, body.get("of")):
            return refusal(late, status=409)
        try:
            answer = await run_in_threadpool(self.tell, verb)
        except TetherError as error:
            return refused_by(error)
        return JSONResponse({"sentence": plain(answer)})

    def _late(self, verb: Verb, of: object) -> str | None:
        """Say that a touch came too late for what its button was about; None if it did not."""
        late = of != about(self.feed.sight.snapshot, verb)
        return "That was over already when your touch arrived; nothing was done." if late else None


def _is_encrypted(request: Request) -> bool:
    return request.url.scheme == "https"


def _static(name: str) -> Response:
    if name not in _FILES:
        raise HTTPException(404)
    return Response((STATIC / name).read_bytes(), media_type=_FILES[name])
