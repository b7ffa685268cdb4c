"""The engine's handle on a body in the same process, for the stepped clock: no waiting, the same events."""

from __future__ import annotations

from typing import Any

from tether.body.handle import Handle
from tether.body.hold import (
    EXPOSING,
    CloseNow,
    Move,
    OpenShutter,
    Word,
    close_left_open,
    close_shutter,
    left_open,
    open_shutter,
    take,
)
from tether.body.open import EventBox, RehearsableBody
from tether.body.protocol import CameraEvent, Ended, Failed, Order, ShutterRecord
from tether.clock import SteppedClock
from tether.errors import BusyError, LostError

NOT_BEGUN = "The session with the camera was ended before this exposure was begun."


class LocalCamera(Handle):
    """A camera in this process; exposures happen while the clock steps.

    Parameters
    ----------
    body
        The body; a shutter that it finds open is closed.
    clock
        Everything due is put into it.
    box
        Where the events of exposures are put.

    Raises
    ------
    TetherError
        The body does not take a close command.
    """

    def __init__(self, body: RehearsableBody, clock: SteppedClock, box: EventBox) -> None:
        self._body = body
        self._clock = clock
        self._box = box
        self._order: Order | None = None
        self._shutter: OpenShutter | None = None
        self._left_open: ShutterRecord | None = None
        self._over = False
        body.close_shutter()

    def begin(self, order: Order) -> None:
        self._free_body()
        self._order = order
        self._clock.call_at(self._clock.now_ns(), self._expose)

    def change(self, by_s: float) -> None:
        self._tell(Move(by_s=by_s))

    def close_now(self) -> None:
        self._tell(CloseNow())

    def reach_again(self) -> None:
        self._free_body().close_shutter()

    def leave(self) -> None:
        if self._over:
            return
        self._over = True
        if self._shutter is not None:
            self._end(
                close_shutter(
                    self._body, self._clock, self._shutter.told(CloseNow(by="camera process"), self._clock.now_ns())
                )
            )
        elif self._order is not None:
            self._end(Failed(frame=self._order.frame, kind="lost", sentences=(NOT_BEGUN,), opening=None))
        self._body.leave()

    def _ask(self, question: str, *values: Any) -> Any:
        if question == "stage":  # what a person does, also while the shutter is held open
            self._require_session()
            return self._body.stage(*values)
        return getattr(self._free_body(), question)(*values)

    def _require_session(self) -> None:
        if self._over:
            raise LostError("The session with the camera is over; connect anew.")

    def _free_body(self) -> RehearsableBody:
        """Return the body if it can be asked something now. A shutter that may have stayed open is closed first."""
        self._require_session()
        if self._order is not None:
            raise BusyError(EXPOSING)
        if self._left_open is not None:
            self._box.put(close_left_open(self._body, self._clock, self._left_open))
            self._left_open = None
        return self._body

    def _expose(self) -> None:
        order = self._order
        if order is None:
            return
        if order.way == "timed":
            take(self._body, self._clock, order, self._note)
            return
        shutter = open_shutter(self._body, self._clock, order, realtime=None)
        if isinstance(shutter, Failed):
            self._end(shutter)
        else:
            self._box.put(shutter.opened())
            self._plan_close(shutter)

    def _plan_close(self, shutter: OpenShutter) -> None:
        self._shutter = shutter
        self._clock.call_at(shutter.closes_at_ns, lambda: self._close(shutter))

    def _close(self, shutter: OpenShutter) -> None:
        # A change or an earlier close has put another plan, or none, in the place of this one.
        if shutter is self._shutter:
            self._shutter = None
            self._end(close_shutter(self._body, self._clock, shutter))

    def _tell(self, word: Word) -> None:
        self._require_session()
        if self._shutter is None:
            return
        told = self._shutter.told(word, self._clock.now_ns())
        if told is not self._shutter:
            self._plan_close(told)
            if told.closed_by == "planned":
                self._box.put(told.changed())

    def _note(self, event: CameraEvent) -> None:
        if isinstance(event, (Ended, Failed)):
            self._end(event)
        else:
            self._box.put(event)

    def _end(self, event: Ended | Failed) -> None:
        self._order = self._shutter = None
        self._left_open = left_open(event)
        self._box.put(event)
