"""How a run reaches its body: simulated in the camera process, simulated and behind the driver, or a camera."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Literal, Protocol

from pydantic import BaseModel, ConfigDict

from tether.body.bodyfile import BodyFile
from tether.body.dialects import Dialect
from tether.body.driver.profile import Link
from tether.body.handle import Handle
from tether.body.network import full_port, model_at
from tether.body.open import BodyChoice, EventBox, open_camera
from tether.body.responder.start import WireHow, WireStart
from tether.body.simulated.world import World
from tether.clock import AffineClock, SteppedClock
from tether.exposure.abilities import Abilities


class Connection(BaseModel):
    """How the body of a run is reached.

    Attributes
    ----------
    way
        "simulated": in the camera process; "wire": simulated too, but spoken to by the driver over a loopback port;
        "camera": a camera, by the driver.
    dialect, how
        For "wire": what is spoken, and how that camera stands.
    port, model
        For "camera": where it is (empty: the only one there is); and the library's name for it, where it is on a
        network.
    recorded
        Whether what is said to and by the camera is recorded, for the report of a trial.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    way: Literal["simulated", "wire", "camera"] = "simulated"
    dialect: Dialect = "eos"
    how: WireHow = WireHow()
    port: str = ""
    model: str = ""
    recorded: bool = False


class Places(Protocol):
    """Where a simulated body has its card and state, a camera process its own, and where its last words go."""

    @property
    def simulated(self) -> Path: ...
    @property
    def camera(self) -> Path: ...
    @property
    def words(self) -> Path | None: ...


#: In the camera process itself.
SIMULATED = Connection()


def at_port(reach: Connection, body_file: BodyFile, port: str, model: str = "") -> Connection:
    """Return a reach with its camera at another port (empty: where it was). Raises PlanError, as above."""
    if not port:
        return reach
    update = {"port": full_port(port), "model": model_at(port, model, body_file)}
    return reach.model_copy(update=update)


def wire_name(dialect: Dialect) -> str:
    """Return the name of the body file of a simulated camera on the wire."""
    return f"wire-{dialect}"


def recording_in(folder: Path) -> Path:
    """Return where in the camera process's own folder its session is recorded."""
    return folder / "recording.jsonl"


@contextmanager
def opened_body(
    reach: Connection,
    abilities: Abilities,
    body_file: BodyFile,
    world: World,
    places: Places,
    clock: AffineClock | SteppedClock,
    box: EventBox,
) -> Iterator[Handle]:
    """Open a camera that can do `abilities` and is spoken to by `body_file`, and leave it however the block ends."""
    with _choice(reach, abilities, body_file, world, places) as choice:
        if reach.recorded and choice.link is not None:
            choice = replace(choice, link=replace(choice.link, recorded_at=recording_in(choice.folder)))
        camera = open_camera(choice, clock, box)
        try:
            yield camera
        finally:
            camera.leave()


@contextmanager
def _choice(
    reach: Connection, abilities: Abilities, body_file: BodyFile, world: World, places: Places
) -> Iterator[BodyChoice]:
    if reach.way == "simulated":
        yield BodyChoice(abilities=abilities, folder=places.simulated, world=world, words=places.words)
    elif reach.way == "camera":
        link = Link(profile=body_file.profile(), port=reach.port, model=reach.model)
        yield BodyChoice(abilities=abilities, folder=places.camera, link=link, words=places.words)
    else:
        from tether.body.responder.keeper import kept  # it loads the whole simulated body

        body = BodyChoice(abilities=abilities, folder=places.simulated, world=world)
        start = WireStart(dialect=reach.dialect, choice=body, how=reach.how)
        with kept(start, places.simulated) as wire:
            link = Link(profile=body_file.profile(), port=wire.path, model=wire.model, staged_at=wire.control)
            yield BodyChoice(abilities=abilities, folder=places.camera, link=link, words=places.words)
