"""Makes the picture of an exposure: scene, light, filters, lens, sensor. The same record gives the same picture."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from tether.body.simulated.card import CardExposure, Spell
from tether.body.simulated.landscape import paint
from tether.body.simulated.lens import seen_through
from tether.body.simulated.light import light_s
from tether.body.simulated.scene import Motion, Picture, Scene, window_of
from tether.body.simulated.sensor import SATURATION_LX_S, Q, Raw, Sensor, mosaic
from tether.body.simulated.world import World
from tether.exposure.abilities import Abilities


def scene_of(world: World, pitch_um: float) -> Scene:
    """Return the scene of a world as a sensor of this pixel pitch [µm] sees it; painted once."""
    px_per_m = world.lens.focal_mm * 1e3 / (pitch_um * world.lens.distance_m)
    motion = Motion(
        fall_px_s=world.scene.fall_m_s * px_per_m,
        run_px_s=world.scene.run_m_s * px_per_m,
        pool_px_s=world.scene.pool_m_s * px_per_m,
        leaves_hz=world.scene.leaves_hz,
        leaves_px=world.scene.leaves_m * px_per_m,
    )
    return paint(world.sensor.window_px, motion, world.seed)


def still_cd_m2(world: World, base_iso: float) -> float:
    """Return the mean luminance of the still rocks when the world begins [cd/m²].

    It is what brings them to the level that the world gives for its base exposure, its filters as they really are.
    """
    base = world.base
    lost_stops = world.stack_stops(base.always_on)[1]
    wanted_lx_s = math.exp2(world.base_level_stops) * SATURATION_LX_S / max(base.iso, base_iso)
    return wanted_lx_s * math.exp2(lost_stops) * base.aperture**2 / (Q * base.time_s)


def sensor_of(exposure: CardExposure, world: World, abilities: Abilities) -> Sensor:
    """Return the sensor as an exposure finds it."""
    return Sensor(
        truth=world.sensor,
        base_iso=abilities.base_iso,
        iso=exposure.iso,
        temperature_c=exposure.temperature_c,
        seed=world.seed,
        gain_off_stops=world.iso_off_stops(exposure.iso),
    )


def render(exposure: CardExposure, world: World, abilities: Abilities) -> Raw:
    """Return the raw numbers of an exposure, shape (height, width), RGGB."""
    sensor = sensor_of(exposure, world, abilities)
    dark = sensor.dark_electrons(exposure.open_s)
    light = light_electrons(exposure, world, abilities)
    raw = sensor.read(light + dark, np.random.default_rng([world.seed, 3, exposure.number]))
    if exposure.less_dark:
        raw = sensor.less_dark(raw, sensor.read(dark, np.random.default_rng([world.seed, 4, exposure.number])))
    return raw


def light_electrons(exposure: CardExposure, world: World, abilities: Abilities) -> NDArray[np.float64]:
    """Return the mean electrons that light frees in every pixel, shape (height, width)."""
    scene, still = scene_of(world, abilities.pitch_um), still_cd_m2(world, abilities.base_iso)
    sensor = sensor_of(exposure, world, abilities)
    electrons = np.zeros((world.sensor.window_px[1], world.sensor.window_px[0]))
    for spell in exposure.spells:
        if not spell.capped and spell.open_s > 0:
            picture = _picture(spell, world, scene, exposure, abilities.pitch_um)
            sensed = sensor.electrons_per_cd_m2(exposure.aperture, light_s(spell, world))
            sensed *= math.exp2(world.aperture_off_stops(exposure.aperture))
            electrons += still * sensed * mosaic(picture) + _leaked(spell, world)
    return electrons


def _leaked(spell: Spell, world: World) -> NDArray[np.float64]:
    """Return the electrons of light that did not come through the lens, shape (height, 1)."""
    edge_to_edge = np.linspace(0.5, 1.5, world.sensor.window_px[1])[:, None]
    return np.asarray(world.leak_e_s * light_s(spell, world) * edge_to_edge, dtype=np.float64)


def _picture(spell: Spell, world: World, scene: Scene, exposure: CardExposure, pitch_um: float) -> Picture:
    """Return the mean picture of a spell behind filters and lens, relative to the still rocks without a filter.

    The water is averaged evenly over the spell, though under falling light its first part counts a little more.
    """
    passed = np.exp2(-np.array(world.stack_stops(spell.fitted), dtype=np.float32))
    picture = scene.averaged(spell.start_s, spell.open_s) * passed[:, None, None]
    knocks = [knock for knock in world.knocks if knock.before_frame <= exposure.number]
    right, down = (
        spell.knock_px[0] + sum(knock.right_px for knock in knocks),
        spell.knock_px[1] + sum(knock.down_px for knock in knocks),
    )
    soft_px = math.hypot(spell.focus_off_px, *(knock.soft_px for knock in knocks))
    return window_of(seen_through(picture, exposure.aperture, pitch_um, (right, down), soft_px))
