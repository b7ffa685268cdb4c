"""How a run reaches its body: simulated in the camera process, simulated and behind the driver, or a camera."""

from __future__ import annotations

import dataclasses
import queue
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Literal

from pydantic import BaseModel, ConfigDict

from tether.body.bodyfile import BodyFile, load_body_file
from tether.body.dialects import Dialect
from tether.body.driver.link import Link
from tether.body.driver.profile import Profile
from tether.body.local import LocalCamera
from tether.body.network import full_port, model_at
from tether.body.open import BodyChoice, open_camera
from tether.body.remote import CameraProcess
from tether.body.responder.start import WireHow, WireStart
from tether.body.simulated.world import World
from tether.clock import AffineClock, SteppedClock
from tether.engine.run_state import Item
from tether.errors import PlanError
from tether.exposure.abilities import Abilities
from tether.outing.folder import Folder
from tether.outing.prepare import Prepared


class Reach(BaseModel):
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
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    way: Literal["simulated", "wire", "camera"] = "simulated"
    dialect: Dialect = "eos"
    how: WireHow = WireHow()
    port: str = ""
    model: str = ""


#: In the camera process itself.
SIMULATED = Reach()


def reach_of_run(ready: Prepared, port: str = "", model: str = "") -> Reach:
    """Return how the body that a plan names is reached by a run: a camera, unless its file is that of a simulated one.

    Raises
    ------
    PlanError
        If its file does not say how it is spoken to, or it is on a network and what it is can't be told.
    """
    if ready.abilities.simulated:
        return SIMULATED
    if ready.body_file.driver is None:
        raise PlanError(
            f'body.file = "{ready.plan.body.file}": this file does not say how the body is spoken to: begin it with'
            ' like = "…" and the name of its family.'
        )
    return at_port(Reach(way="camera"), ready.body_file, port, model)


def at_port(reach: Reach, body_file: BodyFile, port: str, model: str = "") -> Reach:
    """Return a reach with its camera at another port (empty: where it was). Raises PlanError, as above."""
    if not port:
        return reach
    update = {"port": full_port(port), "model": model_at(port, model, body_file)}
    return reach.model_copy(update=update)


def spoken_by(reach: Reach, ready: Prepared) -> BodyFile:
    """Return the body file by which the body of a run is spoken to: the plan's, or that of the camera on the wire."""
    return load_body_file(wire_name(reach.dialect)) if reach.way == "wire" else ready.body_file


def wire_name(dialect: Dialect) -> str:
    """Return the name of the body file of a simulated camera on the wire."""
    return f"wire-{dialect}"


def as_simulated(ready: Prepared) -> Prepared:
    """Return a plan made ready for a simulated body that can do what its own can; it says so in its name."""
    if ready.abilities.simulated:
        return ready
    name = f"{ready.abilities.name}, simulated"
    abilities = dataclasses.replace(ready.abilities, name=name, simulated=True)
    ladder = dataclasses.replace(ready.ladder, body_name=name, simulated=True)
    return dataclasses.replace(ready, abilities=abilities, ladder=ladder)


@contextmanager
def opened_camera(
    reach: Reach,
    ready: Prepared,
    world: World,
    folder: Folder,
    clock: AffineClock | SteppedClock,
    box: queue.SimpleQueue[Item],
) -> Iterator[LocalCamera | CameraProcess]:
    """Open the camera of an outing, and leave it however the block ends."""
    with opened_body(reach, ready.abilities, spoken_by(reach, ready), world, folder, clock, box) as camera:
        yield camera


@contextmanager
def opened_body(
    reach: Reach,
    abilities: Abilities,
    body_file: BodyFile,
    world: World,
    folder: Folder,
    clock: AffineClock | SteppedClock,
    box: queue.SimpleQueue[Item],
) -> Iterator[LocalCamera | CameraProcess]:
    """Open a camera that can do `abilities` and is spoken to by `body_file`, and leave it however the block ends."""
    with _choice(reach, abilities, body_file, world, folder) as choice:
        camera = open_camera(choice, clock, box)
        try:
            yield camera
        finally:
            camera.leave()


@contextmanager
def _choice(
    reach: Reach, abilities: Abilities, body_file: BodyFile, world: World, folder: Folder
) -> Iterator[BodyChoice]:
    if reach.way == "simulated":
        yield BodyChoice(abilities=abilities, folder=folder.simulated, world=world, words=folder.words)
    elif reach.way == "camera":
        link = Link(profile=_profile(body_file), port=reach.port, model=reach.model)
        yield BodyChoice(abilities=abilities, folder=folder.camera, link=link, words=folder.words)
    else:
        from tether.body.responder.keeper import kept  # it loads the whole simulated body

        body = BodyChoice(abilities=abilities, folder=folder.simulated, world=world)
        start = WireStart(dialect=reach.dialect, choice=body, how=reach.how, outlives_keeper=True)
        with kept(start, folder.simulated) as wire:
            link = Link(profile=_profile(body_file), port=wire.path, model=wire.model, staged_at=wire.control)
            yield BodyChoice(abilities=abilities, folder=folder.camera, link=link, words=folder.words)


def _profile(body_file: BodyFile) -> Profile:
    if body_file.driver is None:
        raise PlanError(f"{body_file.name}: this body file does not say how the body is spoken to.")
    return body_file.driver
