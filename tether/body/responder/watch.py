"""What happens beside a client: faults of the wire, frames that come onto the card, events that go out unasked."""

from __future__ import annotations

import os
import sys
import threading
import time

from tether.body.responder.physics import Physics
from tether.body.responder.session import Session
from tether.body.responder.standard import Standard
from tether.errors import TetherError

#: How often it is looked for frames and for the moment of a fault [s].
_LOOK_S = 0.01


class Watch:
    """See the module.

    Attributes
    ----------
    session
        That of the client there is; None: there is none.
    """

    def __init__(self, physics: Physics, dialect: Standard) -> None:
        self.session: Session | None = None
        self._physics = physics
        self._dialect = dialect

    def until(self, over: threading.Event) -> None:
        """Look again and again until it is over; for a thread of its own."""
        # Never at the priority at which commands are heard: frames are made here.
        os.sched_setscheduler(0, os.SCHED_OTHER, os.sched_param(0))
        while not over.wait(_LOOK_S):
            try:
                self._look()
            except TetherError as error:
                print(*error.sentences, file=sys.stderr, flush=True)  # noqa: T201 - the keeper's log

    def _look(self) -> None:
        physics, session = self._physics, self.session
        physics.watch()
        if physics.drop_at_ns is not None and time.monotonic_ns() >= physics.drop_at_ns:
            physics.dropped()
            if session:
                session.drop()
        elif session and physics.gone():
            session.drop()
        physics.card.look()
        if self._dialect.pushes:
            # What comes while nobody listens is lost, as it is with such bodies.
            events = self._dialect.due_events()
            if session and session.listens:
                session.tell(events)
