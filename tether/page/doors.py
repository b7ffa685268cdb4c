"""Who may come in: links that work once, and the secrets that browsers get in exchange. Of links digests are kept."""

from __future__ import annotations

import hashlib
import hmac
import secrets
from dataclasses import dataclass

#: 192 bits: beyond guessing.
_BYTES = 24


@dataclass(frozen=True, kw_only=True)
class BrowserSession:
    """A browser that was let in: whether it may steer, and the token that it must send with what it does."""

    may_steer: bool
    token: str


class Doors:
    """The links that were given out and not used, and the browsers that came in by one."""

    def __init__(self) -> None:
        self._links: dict[bool, str] = {}
        self._sessions: dict[str, BrowserSession] = {}

    def new_link(self, *, may_steer: bool) -> str:
        """Return a token to come in with, once; the one of its kind that was not used yet is void from now on."""
        token = secrets.token_urlsafe(_BYTES)
        self._links[may_steer] = _digest(token)
        return token

    def enter(self, token: str) -> str | None:
        """Exchange the token of a link, which is used up by that, for a browser's secret; None for any other."""
        digest = _digest(token)
        for may_steer, expected in self._links.items():
            if hmac.compare_digest(digest, expected):
                del self._links[may_steer]
                secret = secrets.token_urlsafe(_BYTES)
                token = secrets.token_urlsafe(_BYTES)
                self._sessions[_digest(secret)] = BrowserSession(may_steer=may_steer, token=token)
                return secret
        return None

    def session(self, secret: str | None) -> BrowserSession | None:
        """Return whose secret this is; None if nobody's. It is looked up by its digest: timing tells nothing of it."""
        return self._sessions.get(_digest(secret)) if secret else None


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode(errors="replace")).hexdigest()
