"""What all of the page's addresses answer with, and how they read what a browser sends."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, PlainTextResponse, Response

from tether.errors import TetherError
from tether.report.harmless import plain

STATIC = Path(__file__).parent / "static"
#: Longest body of a POST [bytes].
LONGEST_BODY = 2048
_JPEG = "image/jpeg"
HEADERS = {
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}


def page_of(name: str, **filled: str) -> Response:
    """Return one of the pages, with what all begin with, and filled in what it has a place for."""
    html = (STATIC / name).read_text(encoding="utf-8")
    for what, words in {"head": (STATIC / "head.html").read_text(encoding="utf-8"), **filled}.items():
        html = html.replace(f"{{{what}}}", words)
    return HTMLResponse(html)


def outing_of(outing: Path | None) -> Path:
    """Return the outing that a page is of. Raises HTTPException where it is of none."""
    if outing is None:
        raise HTTPException(404, "No outing has begun yet. Come back when frames have been taken.")
    return outing


def picture_of(found: Path | bytes | None) -> Response:
    """Return a picture, as a file or as it is. Raises HTTPException where there is none."""
    if isinstance(found, bytes):
        return Response(found, media_type=_JPEG)
    if found is None or not found.is_file():
        raise HTTPException(404)
    return FileResponse(found, media_type=_JPEG)


def refusal(sentence: str, *, status: int = 403) -> Response:
    """Return a refusal in words."""
    return PlainTextResponse(
        plain(sentence), status, headers={**HEADERS, "Content-Security-Policy": "default-src 'none'"}
    )


def refused_by(error: TetherError) -> Response:
    """Return a refusal in the words of an error."""
    return refusal(" ".join(error.sentences), status=409)


async def body_of(request: Request) -> dict[str, Any]:
    """Return the JSON object that was sent. Raises HTTPException where it is none, or too long."""
    heard = b""
    async for chunk in request.stream():
        heard += chunk
        if len(heard) > LONGEST_BODY:
            raise HTTPException(413)
    try:
        data = json.loads(heard)
    except (ValueError, RecursionError):
        data = None
    if not isinstance(data, dict):
        raise HTTPException(400)
    return data
