"""What all handles on a body share: each question that is passed on to it, written down once."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable
from typing import Any, Concatenate, ParamSpec, TypeVar, cast

from tether.body.protocol import Camera, Identifies, Rehearsable, Settable, ShowsLive, Stores, Tells
from tether.body.stamps import Stamps

P = ParamSpec("P")
T = TypeVar("T")


#: What a camera process is asked; each is answered.
QUESTIONS: list[str] = ["reach_again"]


def _passed_on(question: Callable[Concatenate[Any, P], T]) -> Callable[Concatenate[Asking, P], T]:
    QUESTIONS.append(question.__name__)

    def ask(handle: Asking, /, *args: P.args, **named: P.kwargs) -> T:
        return cast("T", handle._ask(question.__name__, *args, *named.values()))

    return ask


class Asking(Identifies, Settable, Stores, Tells, ShowsLive, Rehearsable):
    """What a body can be asked; how a question gets there is its own."""

    identify = _passed_on(Camera.identify)
    apply = _passed_on(Camera.apply)
    read_back = _passed_on(Camera.read_back)
    put_back = _passed_on(Camera.put_back)
    status = _passed_on(Camera.status)
    offers = _passed_on(Camera.offers)
    look = _passed_on(Camera.look)
    new_files = _passed_on(Camera.new_files)
    card_files = _passed_on(Camera.card_files)
    fetch = _passed_on(Camera.fetch)
    live = _passed_on(Camera.live)
    live_off = _passed_on(Camera.live_off)
    nudge_focus = _passed_on(Camera.nudge_focus)
    stage = _passed_on(Camera.stage)

    @abstractmethod
    def _ask(self, question: str, *values: Any) -> Any:
        """Put a question to the body by its name in the protocol, and return the answer. Raises as the body does."""


class Handle(Asking, Camera):
    """A handle on a body, as :class:`~tether.body.protocol.Camera` has it.

    `left` is what an earlier camera process of the folder knew of its last exposure; None: nothing.
    """

    left: Stamps | None = None
