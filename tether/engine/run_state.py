"""What every part of a run works with: plan, camera, clock, journal, the ear for the person, the voice to the faces."""

from __future__ import annotations

import contextlib
import math
import queue
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from tether.body.protocol import Camera, Remark
from tether.body.stamps import Stamps
from tether.checks.host_clocks import ClockReading
from tether.clock import Clock, to_ns, to_s
from tether.control.commands import STOPS, Command, Item, Verb
from tether.control.stream import Stream
from tether.engine.analysis_queue import Reader
from tether.engine.copy_queue import Copier
from tether.engine.corrections import FrameHistory
from tether.engine.following import Following
from tether.engine.frame_files import FrameFiles
from tether.errors import LostError
from tether.exposure.abilities import Abilities
from tether.journal.records import Mentioned, Noted, Record, Said, State, StateChanged, Steered, WishesChanged
from tether.journal.store import Journal
from tether.outing.folder import Folder
from tether.plan.file import Plan
from tether.plan.ladder import Ladder

#: One press of brighter or darker, longer or shorter [stops].
STEER_STOPS = 1 / 3

#: The states a run can be in, and which may follow which.
MOVES: dict[State, tuple[State, ...]] = {
    "ready": (
        "your turn",
        "setting",
        "settling",
        "waiting for your key",
        "opening",
        "fetching",
        "paused",
        "in trouble",
        "ended",
    ),
    "your turn": ("ready", "fetching", "in trouble", "ended"),
    "settling": ("ready", "in trouble", "ended"),
    "setting": ("ready", "in trouble", "ended"),
    "waiting for your key": ("ready", "fetching", "in trouble", "ended"),
    "opening": ("open", "ready", "in trouble", "ended"),
    "open": ("ready", "in trouble", "ended"),
    "fetching": ("ready", "your turn", "waiting for your key", "in trouble", "ended"),
    "paused": ("ready", "in trouble", "ended"),
    "in trouble": ("ready", "your turn", "ended"),
    "ended": (),
}


class Stopped(Exception):  # noqa: N818 - not an error: the person's wish, carried to the end of the run
    """The person stopped the run, and how."""

    def __init__(self, verb: Verb) -> None:
        super().__init__(verb)
        self.verb = verb


class TakenBack(Exception):  # noqa: N818 - not an error: the person's word on what they had answered
    """The last task was not done after all; it is asked again."""


@dataclass(frozen=True, kw_only=True)
class DoneTask:
    """A task of the rung in hand that was answered: what, when [s], and the number of the first frame after it."""

    what: str
    at_s: float
    first_frame: int


@dataclass
class Steering:
    """What the person asked for and is still to be done."""

    stop: Verb | None = None
    paused: bool = False
    skip: bool = False
    hurry: bool = False
    again: int = 0
    brighter_stops: float = 0.0
    asked: bool = False
    answered: bool = False
    ahead: int = 0
    done_task: DoneTask | None = None
    taken_back: bool = False

    @property
    def interrupts(self) -> bool:
        """Whether what is waited for is to be left at once."""
        return self.stop is not None or self.taken_back

    def pending(self, state: State) -> list[str]:
        """Return in words what is still to be done of what was said; what the state says itself is not repeated."""
        return [
            *([self.stop] if self.stop else []),
            *(["pauses after this frame"] if self.paused and state != "paused" else []),
            *(["leaves this rung"] if self.skip else []),
            *([f"{self.again} more of this rung"] if self.again else []),
            *([f"{self.brighter_stops:+.2f} stop as you asked"] if self.brighter_stops else []),
            *(
                ["next task counts as done" if self.ahead == 1 else f"{self.ahead} tasks count as done"]
                if self.ahead
                else []
            ),
        ]

    def resting(self) -> bool:
        """Whether the run is to wait until the person says to go on."""
        return self.paused and self.stop is None


@dataclass
class OpenFrame:
    """The exposure in hand, as far as steering must know it; `command_s` is the time between our commands [s]."""

    frame: int
    held: bool
    command_s: float


@dataclass
class StuckSettings:
    """What the body was seen to keep, whatever it was told and said: the values that frames showed, by setting.

    `asked` are the settings that the person was asked about once.
    """

    aperture: float | None = None
    iso: float | None = None
    asked: set[str] = field(default_factory=set)

    def anything(self) -> bool:
        """Say whether there is a value that has to be solved around."""
        return self.aperture is not None or self.iso is not None

    def forget(self) -> None:
        """Believe the body again: the person has seen to it."""
        self.aperture = self.iso = None


@dataclass
class Run:
    """One run of one ladder. Only the engine's thread touches it; others put commands into `box`.

    `left` is what a camera process before this run knew of its last exposure. `files` says how far the file of each
    frame has come. `look` reads the machine's clocks, `reader` frames; `copier` copies them to a second disk.
    `left_as_it_is` is what the person was asked for and left as it was, and why it was asked for. `frame_history` is
    what frames said so far; `retaken` counts how often a frame of the rung in hand was taken again for what it said.
    `leaving_told_s` is which time before leaving was spoken of. `stuck` are settings that the body does not change
    though it says so.
    """

    plan: Plan
    ladder: Ladder
    abilities: Abilities
    camera: Camera
    clock: Clock
    box: queue.SimpleQueue[Item]
    journal: Journal
    folder: Folder
    ladder_number: int
    next_frame: int
    stream: Stream
    answer_for_me: bool = False
    patience_s: float = 60.0
    files: FrameFiles = field(default_factory=FrameFiles)
    left: Stamps | None = None
    look: Callable[[], ClockReading] = ClockReading.now
    reader: Reader = field(default_factory=Reader)
    copier: Copier = field(default_factory=Copier)
    following: Following = field(default_factory=Following)
    frame_history: FrameHistory = field(default_factory=FrameHistory)
    left_as_it_is: dict[str, str] = field(default_factory=dict)
    rung_in_hand: int | None = None
    retaken: int = 0
    stuck: StuckSettings = field(default_factory=StuckSettings)
    leaving_told_s: float = math.inf
    steering: Steering = field(default_factory=Steering)
    state: State = "ready"
    open: OpenFrame | None = None
    _told_pending: list[str] = field(default_factory=list)

    @property
    def now_s(self) -> float:
        """This moment by the run's clock [s]."""
        return to_s(self.clock.now_ns())

    def at_s(self, moment: datetime) -> float:
        """Return a moment of the wall clock by the run's clock [s], also one of an earlier run."""
        return self.now_s - (self.clock.utc() - moment).total_seconds()

    def tell(self, record: Record) -> None:
        """Say that something happened, or is about to: kept first, then shown. See :meth:`Stream.tell`."""
        self.stream.tell(record)

    def go(self, state: State) -> None:
        """Change state; a move that the table does not allow is a mistake in the program."""
        if state == self.state:
            return
        if state not in MOVES[self.state]:
            raise RuntimeError(f"a run cannot go from {self.state} to {state}")
        before, self.state = self.state, state
        self.tell(StateChanged(before=before, state=state, at_ns=self.clock.now_ns()))
        self._tell_pending()

    def say(
        self, about: Literal["note", "trouble"], text: str, frame: int | None = None, rung: int | None = None
    ) -> None:
        """Tell the person a sentence and keep it in the journal."""
        self.tell(Said(about=about, text=text, frame=frame, rung=rung))

    def hear(self, until_ns: int | None) -> Item | None:
        """Wait for whatever comes first: a word of the camera, a word of the person (acted on already), the moment."""
        item = self.clock.take(self.box, until_ns)
        if isinstance(item, Command):
            self.tell(Steered(verb=item.verb, effect=self._steer(item.verb)))
            self._tell_pending()
        if isinstance(item, Remark):
            self._keep(item)
        return item

    def _keep(self, remark: Remark) -> None:
        """Tell what the camera remarks; what it would rather have kept than shown holds serial numbers."""
        if not remark.kept:
            self.say("note", remark.text)
            return
        self.tell(Noted(about="note", text=remark.kept))
        if remark.text:
            self.tell(Mentioned(about="note", text=remark.text))

    def _tell_pending(self) -> None:
        """Tell what is still to be done of what the person said, where that is other than told before."""
        pending = self.steering.pending(self.state)
        if pending != self._told_pending:
            self._told_pending = pending
            self.tell(WishesChanged(pending=pending))

    def pass_time(self, seconds: float) -> None:
        """Let time pass, hearing the person; "next" and every stop cut it short."""
        until_ns = self.clock.now_ns() + to_ns(seconds)
        while self.clock.now_ns() < until_ns and not (self.steering.hurry or self.steering.interrupts):
            if self.hear(until_ns) is None:
                break
        self.stop_if_asked()

    def catch_up(self) -> None:
        """Act on all that has been said by now, without waiting."""
        while self.hear(self.clock.now_ns()) is not None:
            pass

    def stop_if_asked(self) -> None:
        """Raise Stopped if the person asked to stop, TakenBack if they took a task back; called where that is clean."""
        self.catch_up()
        if self.steering.stop:
            raise Stopped(self.steering.stop)
        if self.steering.taken_back:
            raise TakenBack

    def wait_while_paused(self) -> None:
        """Act on what was said; wait until the person says to go on, if they said to pause. Raises Stopped."""
        self.stop_if_asked()
        if not self.steering.resting():
            return
        self.go("paused")
        while self.steering.resting():
            self.hear(None)
        self.go("ready")
        self.stop_if_asked()

    def _steer(self, verb: Verb) -> str:
        steering = self.steering
        in_hand = self.open
        held = in_hand is not None and in_hand.held
        if verb in STOPS:
            return self._steer_stop(verb, held)
        if verb in ("longer", "shorter", "close and keep"):
            return self._steer_open(verb, held)
        if verb == "next":
            steering.hurry = steering.skip = True
            if held:
                self._close_now()
            return "on to the next rung"
        if verb in ("brighter", "darker"):
            steering.brighter_stops += STEER_STOPS if verb == "brighter" else -STEER_STOPS
            if abs(steering.brighter_stops) < STEER_STOPS / 2:
                steering.brighter_stops = 0.0
                return "back to the plan from the next frame on"
            return f"{steering.brighter_stops:+.2f} stop from the next frame on"
        if verb == "take back":
            return self._take_back(held)
        if verb == "I changed something":
            self.following.begin_anew()
            return "the light is read anew; what is known of the filters stays"
        return self._wish(verb)

    def _take_back(self, held: bool) -> str:
        task = self.steering.done_task
        if task is None:
            return "no task before this rung was answered, so there is none to take back"
        self.steering.taken_back = True
        if held:
            self._close_now()
        closes = "closes now, the frame is kept and does not count; " if held else ""
        return f"{closes}“{task.what}” is asked again"

    def _close_now(self) -> None:
        # A camera that is lost is told of as an event of its own.
        with contextlib.suppress(LostError):
            self.camera.close_now()

    def _steer_stop(self, verb: Verb, held: bool) -> str:
        self.steering.stop = verb
        if held and verb != "stop after this frame":
            self._close_now()
            return "closes now, then ends the run"
        return "ends the run once this frame is finished" if self.open else "stops"

    def _wish(self, verb: Verb) -> str:
        steering = self.steering
        if verb == "pause":
            steering.paused = True
            return "pauses after this frame" if self.open else "paused"
        if verb == "go on":
            steering.paused = False
            return "continues"
        if verb == "skip":
            steering.skip = True
            return "leaves out what is left of this rung"
        if verb == "again":
            steering.again += 1
            return "one more frame of this rung"
        if verb == "answer ahead":
            steering.ahead += 1
            return "the next task counts as done"
        if not steering.asked:
            return "nothing is asked of you now"
        steering.answered = True
        return "answered"

    def _steer_open(self, verb: Verb, held: bool) -> str:
        if not held or self.open is None:
            return "no bulb exposure is open, so nothing changed"
        if verb == "close and keep":
            self._close_now()
            return "closes now, the frame is kept"
        factor = 2**STEER_STOPS if verb == "longer" else 2**-STEER_STOPS
        by_s = self.open.command_s * (factor - 1)
        with contextlib.suppress(LostError):
            self.camera.change(by_s)
        return f"closes {abs(by_s):.1f} s {'later' if by_s > 0 else 'sooner'}, if there is still time"
