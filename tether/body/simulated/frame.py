"""Writes the file of an exposure, as the body would hand it over."""

from __future__ import annotations

from pathlib import Path

from tether.body.protocol import Identity
from tether.body.simulated.card import CardExposure
from tether.body.simulated.rendering import render, sensor_of
from tether.body.simulated.sensor import preview
from tether.body.simulated.world import World
from tether.exposure.abilities import Abilities
from tether.files.dng import write_dng
from tether.files.exif import FrameExif
from tether.memory import hand_back


def identity_of(world: World) -> Identity:
    """Return who the simulated body says it is, in every file and on request."""
    return Identity(
        model="Simulated body",
        serial=f"SIM{world.seed}",
        firmware="1.0",
        lens=f"Simulated {world.lens.focal_mm:g} mm",
        simulated=True,
    )


def write_frame(exposure: CardExposure, world: World, abilities: Abilities, into: Path) -> None:
    """Make the picture of an exposure and write it as a DNG. Raises what :func:`~tether.files.dng.write_dng` does."""
    raw = render(exposure, world, abilities)
    levels = sensor_of(exposure, world, abilities).levels()
    write_dng(into, raw, shot=_shot(exposure, world), sensor=levels, preview=preview(raw, levels))
    hand_back()  # some 100 MB


def _shot(exposure: CardExposure, world: World) -> FrameExif:
    identity = identity_of(world)
    return FrameExif(
        time_s=exposure.exif_time_s,
        aperture=float(exposure.settings.aperture.removeprefix("f/")),
        iso=float(exposure.settings.iso),
        taken_at=exposure.opened_utc,
        make="Simulated",
        model=identity.model,
        serial=identity.serial,
        lens=identity.lens,
        software="tether",
        description="Simulated frame",
        focal_mm=world.lens.focal_mm,
    )
