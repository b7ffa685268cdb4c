"""Opening what was chosen: the body itself, or the engine's handle on it."""

from __future__ import annotations

import importlib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from tether.body.driver.profile import Link
from tether.body.protocol import Body, CameraEvent, Rehearsable, RemarkSink
from tether.clock import AffineClock, Clock, SteppedClock
from tether.exposure.abilities import Abilities

# What a body needs is imported where it is opened: the camera process loads its own body and little else.
if TYPE_CHECKING:
    from tether.body.handle import Handle
    from tether.body.simulated.world import World


@dataclass(frozen=True, kw_only=True)
class BodyChoice:
    """Which body to open, as data that can cross to another process.

    Attributes
    ----------
    abilities
        What it can do.
    folder
        Where the camera process keeps its lock, stamps and talk, and a simulated body its card and state.
    world
        What is true of a simulated body and around it; None: the body is reached through the driver.
    link
        How the driver reaches its body; None: it is simulated in the camera process itself.
    words
        The file of its camera processes' last words; None: one in `folder`.
    """

    abilities: Abilities
    folder: Path
    world: World | None = None
    link: Link | None = None
    words: Path | None = None


class EventBox(Protocol):
    """Where the events of exposures are put; a `queue.SimpleQueue` that may also take other things."""

    def put(self, item: CameraEvent, /) -> None: ...


class RehearsableBody(Body, Rehearsable, Protocol):
    """A body with a world in front of it that can be told what a person did at the tripod."""


def load_body(choice: BodyChoice) -> None:
    """Load what opening the chosen body needs, so that it is quick when it is due."""
    importlib.import_module("tether.body.driver.body" if choice.link else "tether.body.simulated.body")


def open_body(choice: BodyChoice, clock: Clock, tell: RemarkSink = lambda _text, _kept="", /: None) -> RehearsableBody:
    """Open the chosen body itself, in this process; `tell` is handed sentences about it for the log.

    Raises
    ------
    TetherError
        It can't be opened.
    """
    if choice.link is not None:
        from tether.body.driver.body import DriverBody

        return DriverBody(choice.abilities, choice.link, choice.folder, clock, tell)
    from tether.body.simulated.body import SimulatedBody
    from tether.body.simulated.world import World

    return SimulatedBody(choice.abilities, choice.world or World(), choice.folder, clock)


def open_camera(choice: BodyChoice, clock: AffineClock | SteppedClock, box: EventBox) -> Handle:
    """Open the engine's handle on the chosen body: a camera process, or on a stepped clock one without a process.

    Parameters
    ----------
    box
        Where the events of exposures are put.

    Raises
    ------
    TetherError
        The body can't be opened.
    """
    if isinstance(clock, SteppedClock):
        from tether.body.local import LocalCamera

        return LocalCamera(open_body(choice, clock), clock, box)
    from tether.body.remote import CameraProcess

    return CameraProcess(choice, clock, box)
