"""What all of the page's addresses answer with, and how they read what a browser sends."""

from __future__ import annotations

import json
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from tether.report.harmless import plain

#: Longest body of a POST [bytes].
LONGEST_BODY = 2048
HEADERS = {
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}


def refusal(sentence: str, *, status: int = 403) -> Response:
    """Return a refusal in words."""
    return PlainTextResponse(
        plain(sentence), status, headers={**HEADERS, "Content-Security-Policy": "default-src 'none'"}
    )


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
