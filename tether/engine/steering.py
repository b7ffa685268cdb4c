"""What the person says while a run goes on: what it does at once, and what of it is still to be done."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass, field

from tether.body.protocol import Camera
from tether.control.commands import STOPS, Verb
from tether.engine.following import Following
from tether.engine.in_hand import OpenFrame
from tether.errors import LostError
from tether.journal.records import State

#: One press of brighter or darker, longer or shorter [stops].
STEER_STOPS = 1 / 3


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
    """What the person asked for and is still to be done. Nothing else writes these fields."""

    stop: Verb | None = None
    paused: bool = False
    skip: bool = False
    hurry: bool = False
    again: int = 0
    quick: int = 0
    brighter_stops: float = 0.0
    asked: bool = False
    answered: bool = False
    puts_on: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    ahead: int = 0
    done_task: DoneTask | None = None
    taken_back: bool = False
    asks_again: str = ""
    _told: list[str] = field(default_factory=list)

    @property
    def interrupts(self) -> bool:
        """Whether what is waited for is to be left at once."""
        return self.stop is not None or self.taken_back

    def pending(self, state: State) -> list[str]:
        """Return in words what is still to be done of what was said; what the state says itself is not repeated."""
        return [
            *([self.stop] if self.stop else []),
            *(["pauses after this frame"] if self.paused and state != "paused" else []),
            *([f"“{self.asks_again}” is asked again"] if self.asks_again else []),
            *(["leaves this rung"] if self.skip else []),
            *([f"{self.again} more of this rung"] if self.again else []),
            *(["a quick frame" if self.quick == 1 else f"{self.quick} quick frames"] if self.quick else []),
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

    def news(self, state: State) -> list[str] | None:
        """Return what is still to be done where that is other than it was when this was asked last; None: it is not."""
        pending = self.pending(state)
        if pending == self._told:
            return None
        self._told = pending
        return pending

    # What the run has done or begins -----------------------------------------------------------------------------

    def take_quick(self) -> bool:
        """Say whether a quick frame is wanted now; it is seen to then."""
        wanted = self.quick > 0 and not self.interrupts
        self.quick -= wanted
        return wanted

    def begin_wait(self) -> None:
        """Begin what “skip” and “next” are said to; those said before are over."""
        self.skip = self.hurry = False

    def begin_rung(self) -> None:
        """Begin a rung: what was said to the one before is over."""
        self.begin_wait()
        self.again = 0

    def end_rung(self) -> None:
        """End a rung: its tasks can no longer be taken back."""
        self.done_task, self.taken_back, self.asks_again = None, False, ""

    def begin_end(self) -> None:
        """Begin the end of the run: the stop that led there is over, another one cuts the end short."""
        self.stop = None

    def skipped(self) -> bool:
        """Say whether the person said to leave what is in hand; it is over then."""
        skip, self.skip = self.skip, False
        return skip

    def retake(self, *, darker: bool) -> None:
        """Have a frame taken again, a third of a stop darker if it is to be."""
        self.again += 1
        self.brighter_stops -= STEER_STOPS if darker else 0.0

    def ask(self, puts_on: tuple[str, ...] = ()) -> None:
        """Put a question: an answer counts from now on. `puts_on` names the filters that it asks for."""
        self.asked, self.answered, self.asks_again, self.puts_on, self.missing = True, False, "", puts_on, ()

    def answer(self) -> bool:
        """Answer what is asked; False where nothing is."""
        self.answered = self.asked
        return self.asked

    def close_question(self) -> None:
        """End a question, answered or not."""
        self.asked = self.answered = False

    def take_missing(self) -> tuple[str, ...]:
        """Return the filters of which the person said that they have not all, if they did; that is seen to then."""
        missing, self.missing = self.missing, ()
        return missing

    def answered_ahead(self) -> bool:
        """Say whether the person answered a task beforehand; that answer is used up then."""
        if not self.ahead:
            return False
        self.ahead -= 1
        return True

    def task_done(self, task: DoneTask) -> None:
        """Remember a task of the rung in hand: it can be taken back."""
        self.done_task = task

    def take_back(self) -> DoneTask | None:
        """Return the task that the person took back, if one was done; that is seen to then."""
        task, self.done_task, self.taken_back = self.done_task, None, False
        return task

    # What the person says ----------------------------------------------------------------------------------------

    def hear(self, verb: Verb, camera: Camera, in_hand: OpenFrame | None, following: Following) -> str:
        """Do what the person says, at once or when its time comes; return in words what it does."""
        held = in_hand is not None and in_hand.held
        if verb in STOPS:
            self.stop = verb
            if held and verb != "stop after this frame":
                close_now(camera)
                return "closes now, then ends the run"
            return "ends the run once this frame is finished" if in_hand else "stops"
        if verb in ("longer", "shorter", "close and keep"):
            return _change_open(verb, camera, in_hand)
        if verb == "next":
            self.hurry = self.skip = True
            if held:
                close_now(camera)
            return "on to the next rung"
        if verb in ("brighter", "darker"):
            return self._brighten(STEER_STOPS if verb == "brighter" else -STEER_STOPS)
        if verb == "take back":
            return self._want_back(camera, in_hand)
        if verb == "not in the bag":
            return self._miss()
        if verb == "I changed something":
            following.begin_anew()
            return "the light is read anew; what is known of the filters stays"
        return self._wish(verb, in_hand)

    def _brighten(self, by_stops: float) -> str:
        self.brighter_stops += by_stops
        if abs(self.brighter_stops) < STEER_STOPS / 2:
            self.brighter_stops = 0.0
            return "back to the plan from the next frame on"
        return f"{self.brighter_stops:+.2f} stop from the next frame on"

    def _miss(self) -> str:
        if not (self.asked and self.puts_on):
            return "no filter is asked for now, so nothing changed"
        self.missing = self.puts_on
        return f"what a ladder without {' or '.join(self.puts_on)} is like is said before anything changes"

    def _want_back(self, camera: Camera, in_hand: OpenFrame | None) -> str:
        if self.done_task is None:
            return "no task before this rung was answered, so there is none to take back"
        self.taken_back, self.asks_again = True, self.done_task.what
        if in_hand is None:
            return f"“{self.asks_again}” will be asked again in a moment, after a test exposure where one is due"
        if not in_hand.held:
            return f"“{self.asks_again}” will be asked again after this frame"
        close_now(camera)
        return f"closes now, the frame is kept and does not count; “{self.asks_again}” will be asked again then"

    def _wish(self, verb: Verb, in_hand: OpenFrame | None) -> str:
        if verb == "pause":
            self.paused = True
            return "pauses after this frame" if in_hand else "paused"
        if verb == "go on":
            self.paused = False
            return "continues"
        if verb == "skip":
            self.skip = True
            return "leaves out what is left of this rung"
        if verb == "again":
            self.again += 1
            return "one more frame of this rung"
        if verb == "quick frame":
            self.quick += 1
            return "a quick frame after this one" if in_hand else "a quick frame"
        if verb == "answer ahead":
            self.ahead += 1
            return "the next task counts as done"
        return "answered" if self.answer() else "nothing is asked of you now"


def close_now(camera: Camera) -> None:
    """Close what is open; a camera that is lost is told of as an event of its own."""
    with contextlib.suppress(LostError):
        camera.close_now()


def _change_open(verb: Verb, camera: Camera, in_hand: OpenFrame | None) -> str:
    if in_hand is None or not in_hand.held:
        return "no bulb exposure is open, so nothing changed"
    if verb == "close and keep":
        close_now(camera)
        return "closes now, the frame is kept"
    factor = 2**STEER_STOPS if verb == "longer" else 2**-STEER_STOPS
    by_s = in_hand.command_s * (factor - 1)
    with contextlib.suppress(LostError):
        camera.change(by_s)
    return f"closes {abs(by_s):.1f} s {'later' if by_s > 0 else 'sooner'}, if there is still time"
