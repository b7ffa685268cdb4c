"""The camera of an outing: how the body that its plan names is reached, and that camera open."""

from __future__ import annotations

import dataclasses
from contextlib import AbstractContextManager

from tether.body.bodyfile import BodyFile, load_body_file
from tether.body.connection import SIMULATED, Connection, at_port, opened_body, wire_name
from tether.body.handle import Handle
from tether.body.open import EventBox
from tether.body.simulated.world import World
from tether.clock import AffineClock, SteppedClock
from tether.errors import PlanError
from tether.outing.folder import Folder
from tether.outing.prepare import Prepared


def reach_of_run(ready: Prepared, port: str = "", model: str = "") -> Connection:
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
    return at_port(Connection(way="camera"), ready.body_file, port, model)


def spoken_by(reach: Connection, ready: Prepared) -> BodyFile:
    """Return the body file by which the body of a run is spoken to: the plan's, or that of the camera on the wire."""
    return load_body_file(wire_name(reach.dialect)) if reach.way == "wire" else ready.body_file


def as_simulated(ready: Prepared) -> Prepared:
    """Return a plan made ready for a simulated body that can do what its own can; it says so in its name."""
    if ready.abilities.simulated:
        return ready
    name = f"{ready.abilities.name}, simulated"
    abilities = dataclasses.replace(ready.abilities, name=name, simulated=True)
    ladder = dataclasses.replace(ready.ladder, body_name=name, simulated=True)
    return dataclasses.replace(ready, abilities=abilities, ladder=ladder)


def opened_camera(
    reach: Connection,
    ready: Prepared,
    world: World,
    folder: Folder,
    clock: AffineClock | SteppedClock,
    box: EventBox,
) -> AbstractContextManager[Handle]:
    """Open the camera of an outing, and leave it however the block ends."""
    return opened_body(reach, ready.abilities, spoken_by(reach, ready), world, folder, clock, box)
