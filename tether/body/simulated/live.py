"""Live view of the simulated body: what its sensor sees now, as bright as a body would show it.

The lens is fully open meanwhile, and brightness is automatic, as on most bodies in live view: it is no promise of what
a frame will be. A dark filter is lit up as far as the body's highest ISO goes, with the noise of that; behind a darker
one the picture is dark.
"""

from __future__ import annotations

import io
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tether.body.protocol import Settings
from tether.body.simulated.card import CardExposure, Spell
from tether.body.simulated.rendering import light_electrons, sensor_of
from tether.body.simulated.sensor import preview
from tether.body.simulated.world import World
from tether.exposure.abilities import Abilities

#: How many times a picture is magnified where it is. Own choice, as bodies have it.
TIMES = 5
#: The longest that the sensor gathers light for one picture [s], and the mean level that is aimed at, as a share of
#: what clips. Own choice, no source.
LONGEST_S = 1 / 30
LEVEL = 0.12
_QUALITY = 90


def live_jpeg(now: Spell, number: int, world: World, abilities: Abilities, at: tuple[float, float] | None) -> bytes:
    """Return a live picture as JPEG, half the window's width and height, also when it is magnified.

    Parameters
    ----------
    now
        What is in front of the sensor; it begins now and lasts `LONGEST_S`.
    number
        That the next exposure will have, which says what knocks there were.
    world, abilities
        The world, and what the body offers.
    at
        As in :class:`~tether.body.protocol.ShowsLive`.
    """
    widest, highest = abilities.apertures[0], abilities.isos[-1]
    exposure = CardExposure(
        number=number,
        settings=Settings(time="", aperture=widest.label, iso=""),
        aperture=widest.exact,
        iso=abilities.base_iso,
        opened_utc=datetime.fromtimestamp(0, UTC),
        spells=(now,),
        temperature_c=world.temperature_c,
        less_dark=False,
        exif_time_s=now.open_s,
        ready_ns=0,
    )
    light = light_electrons(exposure, world, abilities)
    more = LEVEL * world.sensor.full_well_e / max(float(light.mean()), 1e-9)
    iso = abilities.base_iso * min(max(more, 1.0), highest.exact / abilities.base_iso)
    sensor = sensor_of(exposure.model_copy(update={"iso": iso}), world, abilities)
    dark = sensor.dark_electrons(now.open_s)
    rng = np.random.default_rng([world.seed, 6, round(now.start_s * 1e3)])
    raw = sensor.read(min(more, 1.0) * light + dark, rng)
    return _jpeg(preview(raw, sensor.levels()), at)


def _jpeg(picture: NDArray[np.uint8], at: tuple[float, float] | None) -> bytes:
    image = Image.fromarray(picture)
    if at is not None:
        width, height = image.width / TIMES, image.height / TIMES
        left = min(max(at[0] * image.width - width / 2, 0), image.width - width)
        upper = min(max(at[1] * image.height - height / 2, 0), image.height - height)
        image = image.resize(image.size, Image.Resampling.BICUBIC, box=(left, upper, left + width, upper + height))
    file = io.BytesIO()
    image.save(file, "JPEG", quality=_QUALITY)
    return file.getvalue()
