"""Frames of the simulated landscape without a body: only the picture of an exposure, as a raw frame."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from tests.body.simulated.rig import ABILITIES, PITCH_UM
from tether.body.protocol import Settings
from tether.body.simulated.card import CardExposure, Spell
from tether.body.simulated.rendering import render, scene_of
from tether.body.simulated.world import World
from tether.files.raw import RawFrame

F11 = 2.0**3.5
#: One stretch of the exposure, the picture where it was.
AT_REST = ((1.0, (0.0, 0.0)),)
Stretches = tuple[tuple[float, tuple[float, float]], ...]


def shot(
    world: World,
    *,
    open_s: float,
    start_s: float = 0.0,
    number: int = 1,
    aperture: float = F11,
    iso: float = 100.0,
    stretches: Stretches = AT_REST,
) -> RawFrame:
    """Return a frame; `stretches` are shares of its time and how far right and down the picture lies in each [px]."""
    spells, at_s = [], start_s
    for share, knock_px in stretches:
        end_s = at_s + share * open_s
        spells.append(Spell(start_s=at_s, end_s=end_s, fitted=(), capped=False, knock_px=knock_px))
        at_s = end_s
    exposure = CardExposure(
        number=number,
        settings=Settings(time="1", aperture="f/11", iso="100"),
        aperture=aperture,
        iso=iso,
        opened_utc=datetime(2026, 6, 1, tzinfo=UTC),
        spells=tuple(spells),
        temperature_c=world.temperature_c,
        less_dark=False,
        exif_time_s=open_s,
        ready_ns=0,
    )
    black = float(world.sensor.black)
    return RawFrame(
        mosaic=render(exposure, world, ABILITIES),
        pattern="RGGB",
        black=(black, black, black, black),
        white=world.sensor.white,
    )


def still_of(world: World) -> NDArray[np.bool_]:
    """Return where rocks lie that nothing moving comes near, at plane resolution."""
    return halved(scene_of(world, PITCH_UM).still)


def wet_of(world: World) -> NDArray[np.bool_]:
    """Return where there is only water, at plane resolution."""
    return halved(scene_of(world, PITCH_UM).wet)


def halved(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the pixels of the plane that are wholly within a mask of the sensor."""
    return np.asarray(mask[::2, ::2] & mask[1::2, ::2] & mask[::2, 1::2] & mask[1::2, 1::2])
