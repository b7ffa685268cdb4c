"""What is in hand of a run: its state, the exposure, the rung; and what the body was seen not to change."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

from tether.journal.records import RegionsSet, RegionsShown, State
from tether.shot.shot import Shot

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
class InHand:
    """Where a run stands.

    Attributes
    ----------
    next_frame
        The number of the next frame.
    state, open
        What the run does now; the exposure that is open.
    rung, retaken
        The rung in hand, and how often a frame of it was taken again for what it said.
    leaving_told_s
        Which time before leaving was spoken of [s].
    sea_told_ns
        When the sea was last spoken of, or waiting began; None: neither yet.
    left_as_it_is
        What the person was asked for and left as it was, and why it was asked for.
    regions
        The regions that frames of this ladder are read by, where they were proposed; and how they are shown, if so.
    stuck
        Settings that the body does not change though it says so.
    set_for
        The frame that the body was set for last.
    answered_s
        When the person answered last, by the run's clock [s].
    takes_quick
        Takes a quick frame, where the run is far enough for one.
    """

    next_frame: int = 1
    state: State = "ready"
    open: OpenFrame | None = None
    rung: int | None = None
    retaken: int = 0
    leaving_told_s: float = math.inf
    left_as_it_is: dict[str, str] = field(default_factory=dict)
    sea_told_ns: int | None = None
    regions: tuple[RegionsSet, RegionsShown | None] | None = None
    stuck: StuckSettings = field(default_factory=StuckSettings)
    set_for: Shot | None = None
    answered_s: float | None = None
    takes_quick: Callable[[], None] | None = None

    def go(self, state: State) -> State:
        """Change state and return the one before; a move that the table does not allow is a mistake in the program."""
        if state != self.state and state not in MOVES[self.state]:
            raise RuntimeError(f"a run cannot go from {self.state} to {state}")
        before, self.state = self.state, state
        return before

    def begin_rung(self, rung: int) -> None:
        """Take a rung in hand, none of its frames taken again."""
        self.rung, self.retaken = rung, 0

    def number_frame(self) -> int:
        """Return the number of a frame that is about to be opened."""
        frame, self.next_frame = self.next_frame, self.next_frame + 1
        return frame
