"""The dialect of the standard alone: captures, events as packets of their own, and no way to hold the shutter."""

from __future__ import annotations

from tether.body.responder.codes import Op, Response
from tether.body.responder.faults import Call
from tether.body.responder.packets import Request
from tether.body.responder.parts import DONE, Handler, Reply
from tether.body.responder.standard import Standard


class Plain(Standard):
    """See the module."""

    model = "Simulated camera on the wire (P)"
    pushes = True

    def more_handlers(self) -> dict[int, Handler]:
        return {Op.INITIATE_CAPTURE: self._capture}

    def call_of(self, request: Request) -> Call | None:
        return self.exposing_call() if request.code == Op.INITIATE_CAPTURE else super().call_of(request)

    def _capture(self, request: Request) -> Reply:
        if self.physics.focus == "af":
            return Reply(code=Response.GENERAL_ERROR)
        self.physics.expose(request.at_ns)
        return DONE
