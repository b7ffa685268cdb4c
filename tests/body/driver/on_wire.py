"""Simulated cameras on the wire for tests: small frames, shutters without delay, a longest native time of 1/4 s."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.body.choices import choice
from tether.body.bodyfile import load_body_file
from tether.body.dialects import Dialect
from tether.body.driver.profile import Link
from tether.body.open import BodyChoice
from tether.body.responder.keeper import WireCamera, kept
from tether.body.responder.start import AS_IT_SHOULD, WireHow, WireStart

DIALECTS: tuple[Dialect, ...] = ("eos", "eos-old", "nikon", "plain")
LONGEST_S = 0.25


@dataclass(frozen=True)
class OnWire:
    """A camera that runs, the folder where its truth stands, and how the driver reaches it."""

    camera: WireCamera
    truth: Path
    choice: BodyChoice


@contextmanager
def on_wire(folder: Path, dialect: Dialect, *, how: WireHow = AS_IT_SHOULD, **truth: Any) -> Iterator[OnWire]:
    """Have a camera on the wire: `how` changes how it is started, `truth` what is true of the world behind it."""
    body = choice(folder / "truth", **truth)
    can_hold = dialect != "plain"
    times = tuple(mark for mark in body.abilities.times if mark.exact <= LONGEST_S)
    abilities = dataclasses.replace(body.abilities, times=times, can_hold=can_hold)
    body = dataclasses.replace(body, abilities=abilities)
    profile = load_body_file(f"wire-{dialect}").driver
    assert profile is not None
    with kept(WireStart(dialect=dialect, choice=body, how=how), body.folder) as camera:
        link = Link(profile=profile, port=camera.path, model=camera.model, staged_at=camera.control)
        yield OnWire(
            camera=camera,
            truth=body.folder,
            choice=BodyChoice(abilities=abilities, folder=folder / "camera", link=link),
        )
