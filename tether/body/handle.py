"""What both of the engine's handles on a body share: each question that is passed on to it, written down once."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import Any, Concatenate, ParamSpec, TypeVar, cast

from tether.body.protocol import Body, Rehearsable

P = ParamSpec("P")
T = TypeVar("T")


def _passed_on(question: Callable[Concatenate[Any, P], T]) -> Callable[Concatenate[Handle, P], T]:
    def ask(handle: Handle, /, *args: P.args, **named: P.kwargs) -> T:
        return cast("T", handle._ask(question.__name__, *args, *named.values()))

    return ask


class Handle(ABC):
    """A handle on a body; how a question reaches the body is the handle's own."""

    identify = _passed_on(Body.identify)
    apply = _passed_on(Body.apply)
    read_back = _passed_on(Body.read_back)
    put_back = _passed_on(Body.put_back)
    status = _passed_on(Body.status)
    offers = _passed_on(Body.offers)
    look = _passed_on(Body.look)
    new_files = _passed_on(Body.new_files)
    card_files = _passed_on(Body.card_files)
    fetch = _passed_on(Body.fetch)
    live = _passed_on(Body.live)
    live_off = _passed_on(Body.live_off)
    nudge_focus = _passed_on(Body.nudge_focus)
    stage = _passed_on(Rehearsable.stage)

    @abstractmethod
    def _ask(self, question: str, *values: Any) -> Any:
        """Put a question to the body by its name in the protocol, and return the answer. Raises as the body does."""
