"""A face's line to a run: a thread that attaches, attaches again when the run was lost, and says words to it."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from tether.clock import AffineClock
from tether.control.client import Face, GoneError, say_to
from tether.control.commands import Verb
from tether.control.messages import Facts
from tether.control.registry import Running, running
from tether.errors import LostError, TetherError
from tether.journal.records import FrameOpened, Record
from tether.journal.snapshot import Snapshot

#: How long the thread waits for an event before it looks whether there is a word to say [s].
HEARS_FOR_S = 0.1
#: How often a run is looked for, or a lost one tried again [s].
LOOKS_EVERY_S = 0.5
#: How often a run that says nothing is asked for a sign of life [s].
KNOCKS_EVERY_S = 2.0
#: How long leaving may take where the run is in the middle of an answer [s].
LEAVES_WITHIN_S = 1.0

State = Literal["none", "attached", "lost", "gone", "over"]
"""No run; attached to it; lost, and it may be back; gone without a verdict; over."""


@dataclass(frozen=True, kw_only=True)
class RunView:
    """What a face knows of the run.

    Attributes
    ----------
    state
        How the face stands to it.
    outing
        The outing's folder, where that is known.
    facts, clock, snapshot
        As the run said last; None before it said anything.
    record
        What was shown just now, and is in the snapshot already; None: something else has changed.
    attached
        How often the face has attached so far.
    since_s
        Since when it is lost, by the machine's monotonic clock [s].
    left_open
        The frame that was open when the run was lost, until the run that took over has begun its ladder.
    why_lost
        How it was lost, or that it is over, as the run or its absence said; empty while attached.
    why_not
        Why the run that is there could not be attached to; empty where it was not tried, or it could.
    """

    state: State = "none"
    outing: Path | None = None
    facts: Facts | None = None
    clock: AffineClock | None = None
    snapshot: Snapshot = field(default_factory=Snapshot)
    record: Record | None = None
    attached: int = 0
    since_s: float = 0.0
    left_open: FrameOpened | None = None
    why_lost: str = ""
    why_not: str = ""


@dataclass(frozen=True, kw_only=True)
class WordReply:
    """What came of a word that was said; `ok` False: it was not taken."""

    verb: Verb
    ok: bool
    sentence: str


class Attachment:
    """Keeps a face attached to an outing's run.

    Parameters
    ----------
    outing
        The outing's folder; None: whatever runs, as long as it is the only one.
    tell
        Given every new `RunView` and every `WordReply`, in a thread of its own; must return at once.
    waits
        Whether nothing is attached to before :meth:`turn_to` says what.
    stays
        Whether only the run of that outing is meant once one was attached to.
    """

    def __init__(
        self,
        outing: Path | None,
        tell: Callable[[RunView | WordReply], None],
        *,
        waits: bool = False,
        stays: bool = True,
    ) -> None:
        self._tell = tell
        self._waits = waits
        self._stays = stays
        self._meant = outing
        self._turned_to: queue.SimpleQueue[Path] = queue.SimpleQueue()
        self._sight = RunView(outing=outing)
        self._run: Running | None = None
        self._words: queue.SimpleQueue[Verb] = queue.SimpleQueue()
        self._leaving = threading.Event()
        self._thread = threading.Thread(target=self._work, name="attachment", daemon=True)
        self.heard_s = time.monotonic()
        """When the run gave a sign of life last, by the machine's monotonic clock [s]."""

    def start(self) -> None:
        """Begin; the first sight comes at once."""
        self._thread.start()

    def turn_to(self, outing: Path) -> None:
        """Attach to the run of another outing from now on."""
        self._turned_to.put(outing)

    def say(self, verb: Verb) -> None:
        """Say a word; what comes of it is a `WordReply`."""
        self._words.put(verb)

    def say_now(self, verb: Verb) -> str:
        """Say a word over a line of its own and return the run's answer; from any thread.

        Raises
        ------
        LostError
            When there is no run to say it to, or it refuses.
        """
        run = self._found()
        if run is None:
            raise LostError(f"“{verb}” was not sent: no run is attached.")
        return say_to(run.socket, verb)

    def close(self) -> None:
        """Leave the run to itself; harmless when done. A run that does not answer is not waited for."""
        self._leaving.set()
        if self._thread.is_alive():
            self._thread.join(LEAVES_WITHIN_S)

    # In its thread ----------------------------------------------------------------------------------------------

    def _work(self) -> None:
        self._show()
        while not self._leaving.is_set():
            self._turn()
            face = self._attached()
            if face is None:
                # A run that has no room for a face hears what is to be said; where there is none, nobody does, and it
                # is not kept for later, when it may be wrong.
                while not self._words.empty():
                    with suppress(GoneError):
                        self._speak(self.say_now)
                self._leaving.wait(LOOKS_EVERY_S)
                continue
            with closing(face):
                self._follow(face)

    def _turn(self) -> None:
        if not self._turned_to.empty():
            self._waits = False
            self._meant = self._turned_to.get()
            self._sight = RunView(outing=self._meant, attached=self._sight.attached)
            self._show()

    def _attached(self) -> Face | None:
        """Attach to the run if there is one; else say how things stand."""
        run = self._found()
        try:
            if run is not None:
                self._run = run
                return Face.attach(run.socket)
        except TetherError as error:
            if str(error) != self._sight.why_not:
                self._show(why_not=str(error))
        if self._sight.state == "lost" and self._run is not None and self._run.is_over:
            self._show(state="gone")
        return None

    def _found(self) -> Running | None:
        """Find the run that is meant, or None."""
        runs = [] if self._waits else running()
        if self._meant is not None:
            folder = self._meant.resolve()
            return next((one for one in runs if one.outing == folder), None)
        return runs[0] if len(runs) == 1 else None

    def _follow(self, face: Face) -> None:
        """Hear and speak until the run is gone or is left."""
        self.heard_s = face.heard_s
        outing = Path(face.hello.facts.outing)
        self._meant = outing if self._stays else self._meant
        self._show(
            state="attached",
            outing=outing,
            facts=face.hello.facts,
            clock=face.hello.clock,
            snapshot=face.snapshot,
            attached=self._sight.attached + 1,
            left_open=self._left_open(face.snapshot),
            why_lost="",
            why_not="",
        )
        knocked_s = time.monotonic()
        try:
            while not self._leaving.is_set() and self._turned_to.empty():
                self._speak(face.say)
                if (record := face.next(HEARS_FOR_S)) is not None:
                    left_open = self._left_open(face.snapshot)
                    self._show(snapshot=face.snapshot, record=record, left_open=left_open)
                self.heard_s = face.heard_s
                if time.monotonic() - max(knocked_s, face.heard_s) > KNOCKS_EVERY_S:
                    face.knock()
                    knocked_s = time.monotonic()
        except GoneError as gone:
            over = not gone.again or face.snapshot.over is not None
            self._show(state="over" if over else "lost", since_s=time.monotonic(), why_lost=str(gone))
        except LostError as lost:
            self._show(state="lost", since_s=face.heard_s, why_lost=str(lost))

    def _left_open(self, snapshot: Snapshot) -> FrameOpened | None:
        """Return the frame that an earlier run process left open, as far as this face has seen it.

        The run that takes over waits for it before it begins, and tells nothing meanwhile.
        """
        return (self._sight.snapshot.open or self._sight.left_open) if snapshot.planned is None else None

    def _speak(self, say: Callable[[Verb], str]) -> None:
        """Say what is to be said. Raises GoneError."""
        while not self._words.empty():
            verb = self._words.get()
            try:
                self._tell(WordReply(verb=verb, ok=True, sentence=say(verb)))
            except LostError as error:
                self._tell(WordReply(verb=verb, ok=False, sentence=str(error)))
                if isinstance(error, GoneError):
                    raise

    def _show(self, **changes: object) -> None:
        self._sight = replace(self._sight, **{"record": None, **changes})  # type: ignore[arg-type]
        self._tell(self._sight)
