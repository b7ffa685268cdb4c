"""The pictures of the base before a run: its last frame, its histogram, live view, and how the place was framed last.

They show where somebody is, so that only phones that may steer get them, and nobody keeps them.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from tether.editor.known import Known
from tether.editor.messages import DraftFrame
from tether.page.answers import picture_of, refusal
from tether.page.pictures import live_picture
from tether.report.drawing import written
from tether.report.histogram import histogram_picture


class BasePictures:
    """What is answered of pictures of the base; `known` says what the draft process told."""

    def __init__(self, known: Callable[[], Known]) -> None:
        self._known = known

    def routes(self) -> list[Route]:
        """Return the addresses."""
        return [
            Route("/evening/base.jpg", _steering(self.base)),
            Route("/evening/base.svg", _steering(self.histogram)),
            Route("/evening/live.jpg", _steering(self.live)),
            Route("/evening/framed.jpg", _steering(self.framed)),
        ]

    def base(self) -> Response:
        """Answer with the last frame's preview."""
        return picture_of(Path(self._frame().picture))

    def histogram(self) -> Response:
        """Answer with the last frame's raw histogram."""
        return Response(written(histogram_picture(self._frame().bars, None)), media_type="image/svg+xml")

    def live(self) -> Response:
        """Answer with what the camera sees now."""
        return picture_of(live_picture() if self._known().live else None)

    def framed(self) -> Response:
        """Answer with how this place was framed last."""
        live = self._known().live
        return picture_of(Path(live.framed) if live and live.framed else None)

    def _frame(self) -> DraftFrame:
        frames = self._known().frames
        if not frames:
            raise HTTPException(404)
        return frames[-1]


def _steering(answer: Callable[[], Response]) -> Callable[[Request], Response]:
    """Return what answers those who may steer, and refuses others."""

    def answered(request: Request) -> Response:
        if not request.scope["session"].may_steer:
            return refusal("Pictures are shown to phones that may steer.")
        return answer()

    return answered
