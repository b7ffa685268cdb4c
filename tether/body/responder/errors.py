"""How an operation can end other than well."""

from __future__ import annotations

from tether.body.responder.codes import Response


class GoneError(Exception):
    """The body does not answer at all: the connection goes with it."""


class RefusedError(Exception):
    """An operation that is not done, and the response that says so."""

    def __init__(self, code: Response) -> None:
        super().__init__(code.name)
        self.code = code
