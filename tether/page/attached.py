"""Keeps attached to an outing's run, in a thread of its own: finds it, hears it, notices when it is lost or silent."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from tether.clock import AffineClock
from tether.control.client import Face, GoneError, say_to
from tether.control.commands import Verb
from tether.control.messages import Facts
from tether.control.registry import running
from tether.errors import LostError, TetherError
from tether.journal.records import Record
from tether.journal.snapshot import Snapshot

#: How often a run that is not there is looked for [s].
LOOK_S = 1.0
#: A run that has told nothing for so long is asked whether it is still there [s].
ASKED_AFTER_S = 3.0


@dataclass(frozen=True, kw_only=True)
class Link:
    """How this page stands with the run: "attached", "lost" (it may come back), "over", or "absent"; and a sentence."""

    state: Literal["attached", "lost", "over", "absent"]
    sentence: str


@dataclass(frozen=True, kw_only=True)
class Heard:
    """What changed: the link, or a record that was shown; with how the run stands after it, as far as is known.

    `facts`, `clock` and `snapshot` are None until a run was attached to.
    """

    link: Link
    facts: Facts | None = None
    clock: AffineClock | None = None
    snapshot: Snapshot | None = None
    record: Record | None = None


ABSENT = Link(state="absent", sentence="No run of this outing is active. This page waits for one.")
ATTACHED = Link(state="attached", sentence="Attached to the run.")


class Attachment:
    """The link to a run. `tell` is called in its thread with all that changes, and must return at once.

    Parameters
    ----------
    outing
        The folder of the outing whose run is meant; None: whichever runs.

    Attributes
    ----------
    outing
        The folder; None while it is not known.
    """

    def __init__(self, outing: Path | None, tell: Callable[[Heard], None]) -> None:
        self.outing = None if outing is None else outing.resolve()
        self._meant = self.outing
        self._tell = tell
        self._last = Heard(link=ABSENT)
        self._socket: Path | None = None
        self._heard_s: float | None = None
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._work, name="run", daemon=True)

    def start(self) -> None:
        """Begin to look for the run."""
        self._thread.start()

    def close(self) -> None:
        """Leave the run, which goes on."""
        self._closing.set()

    def silent_s(self) -> float:
        """Return for how long the run gave no sign of life, though it was asked for one [s]; 0 while it is lost."""
        heard_s = self._heard_s
        silent_s = 0.0 if heard_s is None else time.monotonic() - heard_s
        return silent_s if silent_s > ASKED_AFTER_S + LOOK_S else 0.0

    def say(self, verb: Verb) -> str:
        """Say a word to the run and return its answer; from any thread, over a line of its own.

        Raises
        ------
        LostError
            When there is no run to say it to, or it refuses.
        """
        path = self._socket
        if path is None:
            raise LostError("The run is not there, so nothing can be said to it.")
        return say_to(path, verb)

    # In its thread -----------------------------------------------------------------------------------------------

    def _work(self) -> None:
        while not self._closing.is_set():
            found = next((one for one in running() if self._meant in (None, one.outing)), None)
            if found is None:
                if self._last.link.state == "attached":
                    self._say_link(ABSENT)
                self._closing.wait(LOOK_S)
                continue
            self.outing = found.outing
            try:
                self._attend(found.socket)
            except GoneError as gone:
                self._say_link(Link(state="lost" if gone.again else "over", sentence=_waiting(gone)))
            except TetherError as error:
                self._say_link(Link(state="lost", sentence=_waiting(error)))
            self._closing.wait(LOOK_S)

    def _attend(self, path: Path) -> None:
        """Hear a run until it is gone, or this is closed."""
        face = Face.attach(path)
        try:
            self._socket = path
            self._change(Heard(link=ATTACHED, facts=face.hello.facts, clock=face.clock, snapshot=face.snapshot))
            knocked_s = time.monotonic()
            while not self._closing.is_set():
                self._heard_s = face.heard_s
                record = face.next(LOOK_S)
                if record is not None:
                    facts = face.hello.facts
                    self._change(
                        Heard(link=ATTACHED, facts=facts, clock=face.clock, snapshot=face.snapshot, record=record)
                    )
                elif time.monotonic() - max(knocked_s, face.heard_s) > ASKED_AFTER_S:
                    face.knock()
                    knocked_s = time.monotonic()
        finally:
            self._socket = self._heard_s = None
            face.close()

    def _say_link(self, link: Link) -> None:
        """Tell a change of the link; what was known of the run last stays."""
        if link != self._last.link:
            last = self._last
            self._change(Heard(link=link, facts=last.facts, clock=last.clock, snapshot=last.snapshot))

    def _change(self, heard: Heard) -> None:
        self._last = heard
        self._tell(heard)


def _waiting(error: TetherError) -> str:
    return f"{' '.join(error.sentences)} This page waits for it to come back."
