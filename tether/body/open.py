"""Opening what was chosen: the body itself, or the engine's handle on it."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, Protocol

from tether.body.protocol import Body, CameraEvent, Rehearsable
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
    kind
        The kind of body.
    abilities
        What it can do.
    world
        What is true of the simulated body and around it.
    folder
        Where the simulated body keeps its card and state, and the camera process its lock, stamps and talk.
    """

    kind: Literal["simulated"]
    abilities: Abilities
    world: World
    folder: Path

    def as_json(self) -> dict[str, Any]:
        """Return the choice as JSON data; the folder becomes absolute."""
        return {
            "kind": self.kind,
            "abilities": dataclasses.asdict(self.abilities),
            "world": self.world.model_dump(mode="json"),
            "folder": str(self.folder.absolute()),
        }

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> BodyChoice:
        """Rebuild a choice from :meth:`as_json`."""
        from tether.body.simulated.world import World

        return cls(
            kind=data["kind"],
            abilities=_abilities(data["abilities"]),
            world=World.model_validate(data["world"]),
            folder=Path(data["folder"]),
        )


def _abilities(data: dict[str, Any]) -> Abilities:
    scales = {scale: tuple(Mark(**mark) for mark in data[scale]) for scale in ("times", "apertures", "isos")}
    return Abilities(**{**data, **scales, "sensor_mm": tuple(data["sensor_mm"])})


class EventBox(Protocol):
    """Where the events of exposures are put; a `queue.SimpleQueue` that may also take other things."""

    def put(self, item: CameraEvent, /) -> None: ...


class RehearsableBody(Body, Rehearsable, Protocol):
    """A body with a world in front of it that can be told what a person did at the tripod."""


def open_body(choice: BodyChoice, clock: Clock) -> RehearsableBody:
    """Open the chosen body itself, in this process.

    Raises
    ------
    TetherError
        It can't be opened.
    """
    from tether.body.simulated.body import SimulatedBody

    return SimulatedBody(choice.abilities, choice.world, choice.folder, clock)


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
