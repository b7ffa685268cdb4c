"""Opening what was chosen: the body itself, or the engine's handle on it."""

from __future__ import annotations

import dataclasses
import importlib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from tether.body.driver.link import Link
from tether.body.protocol import Body, CameraEvent, Rehearsable, Tell
from tether.clock import AffineClock, Clock, SteppedClock
from tether.exposure.abilities import Abilities
from tether.exposure.marks import Mark

# What a body needs is imported where it is opened: the camera process loads its own body and little else.
if TYPE_CHECKING:
    from tether.body.local import LocalCamera
    from tether.body.remote import CameraProcess
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
        The file of its camera processes' last words; None: one in `folder`. The process itself does not need it.
    """

    abilities: Abilities
    folder: Path
    world: World | None = None
    link: Link | None = None
    words: Path | None = None

    def as_json(self) -> dict[str, Any]:
        """Return the choice as JSON data; the folder becomes absolute."""
        return {
            "abilities": dataclasses.asdict(self.abilities),
            "folder": str(self.folder.absolute()),
            "world": None if self.world is None else self.world.model_dump(mode="json"),
            "link": None if self.link is None else self.link.as_json(),
        }

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> BodyChoice:
        """Rebuild a choice from :meth:`as_json`."""
        return cls(
            abilities=_abilities(data["abilities"]),
            folder=Path(data["folder"]),
            world=None if data["world"] is None else _world(data["world"]),
            link=None if data["link"] is None else Link.from_json(data["link"]),
        )


def _world(data: dict[str, Any]) -> World:
    from tether.body.simulated.world import World

    return World.model_validate(data)


def _abilities(data: dict[str, Any]) -> Abilities:
    scales = {scale: tuple(Mark(**mark) for mark in data[scale]) for scale in ("times", "apertures", "isos")}
    return Abilities(**{**data, **scales, "sensor_mm": tuple(data["sensor_mm"])})


class EventBox(Protocol):
    """Where the events of exposures are put; a `queue.SimpleQueue` that may also take other things."""

    def put(self, item: CameraEvent, /) -> None: ...


class RehearsableBody(Body, Rehearsable, Protocol):
    """A body with a world in front of it that can be told what a person did at the tripod."""


def load_body(choice: BodyChoice) -> None:
    """Load what opening the chosen body needs, so that it is quick when it is due."""
    importlib.import_module("tether.body.driver.body" if choice.link else "tether.body.simulated.body")


def _unheard(_text: str, _kept: str = "", /) -> None:
    """Tell nobody."""


def open_body(choice: BodyChoice, clock: Clock, tell: Tell = _unheard) -> RehearsableBody:
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


def open_camera(choice: BodyChoice, clock: AffineClock | SteppedClock, box: EventBox) -> LocalCamera | CameraProcess:
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
