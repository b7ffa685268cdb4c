"""The one landscape of the simulated world: a fall over a wall of rock, a run below it, a pool, boulders, leaves.

Places are shares of the window's width (u, to the right) and height (v, down), so a small window shows the same
composition; sizes of textures are for a window 800 px high.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from tether.body.simulated.brushes import (
    Boulder,
    Colour,
    blobs,
    blur,
    boulder,
    crags,
    leaf,
    lit,
    sparks,
    step,
    tinted,
)
from tether.body.simulated.moving import Drifting, Field, Swaying, spectrum_of
from tether.body.simulated.scene import MARGIN_PX, Leaves, Motion, Patch, Picture, Scene, Water, window_of

FOAM: Colour = (0.95, 1.0, 1.04)
DEEP: Colour = (0.55, 1.0, 0.95)
DRY: Colour = (1.05, 1.0, 0.92)
WET: Colour = (0.95, 1.0, 1.04)
MOSS: Colour = (0.74, 1.0, 0.42)
LEAF: Colour = (0.66, 1.0, 0.25)

#: Centre (u, v), radii (of u, of v) and tone, painted in this order.
BOULDERS = (
    (0.265, 0.595, 0.075, 0.085, 0.95),
    (0.675, 0.580, 0.085, 0.100, 0.85),
    (0.520, 0.640, 0.040, 0.050, 0.75),
    (0.140, 0.690, 0.130, 0.130, 1.00),
    (0.860, 0.680, 0.160, 0.150, 0.95),
    (0.610, 0.780, 0.055, 0.045, 0.75),
    (0.350, 0.820, 0.070, 0.050, 0.80),
    (0.020, 0.940, 0.210, 0.170, 1.10),
    (0.740, 0.985, 0.120, 0.110, 1.05),
    (1.000, 0.930, 0.150, 0.170, 0.90),
)
#: Share of unevenness that a foam texture has: exp(contrast × noise), so frozen water has dark and burning parts.
CONTRAST = 0.62


@lru_cache(maxsize=2)
def paint(window_px: tuple[int, int], motion: Motion, seed: int) -> Scene:
    """Paint the landscape for a window of (width, height) pixels; the same arguments give the same scene."""
    return _Painter(window_px, motion, seed).scene()


class _Painter:
    def __init__(self, window_px: tuple[int, int], motion: Motion, seed: int) -> None:
        self.window = window_px
        self.motion = motion
        self.rng = np.random.default_rng([seed, 1])
        self.shape = window_px[1] + 2 * MARGIN_PX, window_px[0] + 2 * MARGIN_PX
        self.unit = window_px[1] / 800
        y, x = np.mgrid[: self.shape[0], : self.shape[1]].astype(np.float32)
        self.v, self.u = (y - MARGIN_PX) / window_px[1], (x - MARGIN_PX) / window_px[0]

    def scene(self) -> Scene:
        rocks, cover = self.boulders()
        fall, run, pool = self.water_places(1 - cover)
        water = fall + run + pool
        dry = self.wall(water) * (1 - cover) + rocks * cover
        leaves = self.leaves()
        still = self.far_from(water, 14) & self.far_from(self.leafy(leaves), 6)
        unit_light = float(window_of(dry)[1][still].mean())
        rest = dry / unit_light * (1 - water) + tinted(0.16 * (fall + run) + 0.20 * pool, DEEP)
        waters = (*self.falling(fall), *self.running(run), *self.pooling(pool, cover))
        return Scene(
            rest=np.asarray(rest, dtype=np.float32),
            waters=waters,
            leaves=leaves,
            still=still,
            wet=(window_of(water) > 0.98) & self.far_from(self.leafy(leaves), 6),
        )

    # Where things are

    def band(self, half_width: Field, top: float, bottom: float, soft: float) -> Field:
        """Return a vertical band around the fall's centre line, its edges frayed, faded at top and bottom."""
        wander = 0.014 * blobs(self.shape, self.rng, (60 * self.unit, 9 * self.unit))
        centre = 0.465 + 0.02 * np.sin(4 * self.v)
        across = step(half_width - np.abs(self.u - centre) + wander, 0.012)
        return np.asarray(across * step(self.v - top, soft) * step(bottom - self.v, soft), dtype=np.float32)

    def water_places(self, free: Field) -> tuple[Field, Field, Field]:
        """Return how much of each pixel is falling, running and pooling water (together at most 1)."""
        lip = 0.012 * blobs(self.shape, self.rng, (14 * self.unit, 30 * self.unit))
        fall = self.band(0.075 + 0.13 * np.clip(self.v, 0, 1), -1.0, 0.56, 0.03)
        run = self.band(0.17 + 0.45 * np.clip(self.v - 0.48, 0, 1), 0.50, 0.74, 0.03)
        pool = step(np.asarray(self.v - 0.675 + 0.025 * np.abs(self.u - 0.46) + lip, dtype=np.float32), 0.018)
        run = run * (1 - pool)
        fall = fall * (1 - np.maximum(run, pool))
        return fall * free, run * free, pool * free

    def far_from(self, field: Field, away_px: float) -> NDArray[np.bool_]:
        """Return where, in the window, nothing of a field lies within about `away_px`."""
        return np.asarray(window_of(blur(field, (away_px / 2, away_px / 2))) < 0.002)

    def leafy(self, leaves: tuple[Leaves, ...]) -> Field:
        """Return where leaves come over a whole swing."""
        field = np.zeros(self.shape, dtype=np.float32)
        for clump in leaves:
            field[clump.patch.slices] += clump.clump.averaged(0.0, 1e4)[0]
        return field

    # What stands still

    def wall(self, water: Field) -> Picture:
        """Return the wall of rock behind the water: layered, mossy above, wet and darker near the water."""
        layers = crags(self.shape, self.rng, stretch=(0.45, 1.0), slope=1.5)
        fine = crags(self.shape, self.rng, slope=1.15)
        ledges = np.sin(34 * (self.v + 0.02 * layers) + 1.5 * layers)
        light = lit(np.asarray(self.unit * (9 * layers + 2.0 * ledges + 1.1 * fine), dtype=np.float32))
        damp = np.clip(3.0 * blur(water, (26 * self.unit, 26 * self.unit)), 0, 1)
        light = light * (1 + 0.10 * fine) * (1 - 0.45 * damp) * (1.05 - 0.25 * np.clip(self.v, 0, 1))
        mossy = step(np.asarray(0.55 * crags(self.shape, self.rng) + 0.45 - 1.0 * self.v, dtype=np.float32), 0.5)
        return self.mixed(np.asarray(0.8 * light, dtype=np.float32), 0.8 * mossy * (1 - 0.5 * damp), damp)

    def mixed(self, light: Field, mossy: Field, damp: Field) -> Picture:
        """Return a surface in the colours of rock, moss and wet rock by their shares."""
        rock = tinted(light * (1 - damp), DRY) + tinted(light * damp, WET)
        return np.asarray(rock * (1 - mossy) + tinted(0.8 * light, MOSS) * mossy, dtype=np.float32)

    def boulders(self) -> tuple[Picture, Field]:
        """Return the boulders' picture and how much of each pixel they cover."""
        picture = np.zeros((3, *self.shape), dtype=np.float32)
        covered = np.zeros(self.shape, dtype=np.float32)
        shapes = crags(self.shape, self.rng, slope=2.1), crags(self.shape, self.rng, slope=1.3)
        for u, v, radius_u, radius_v, tone in BOULDERS:
            where = self.patch(v - 1.5 * radius_v, v + 1.5 * radius_v, u - 1.5 * radius_u, u + 1.5 * radius_u).slices
            rock = Boulder(
                centre_px=(v * self.window[1] + MARGIN_PX, u * self.window[0] + MARGIN_PX),
                radius_px=(radius_v * self.window[1], radius_u * self.window[0]),
                tone=tone,
            )
            roll = tuple(self.rng.integers(0, self.shape))
            bumps, grain = (np.roll(shape, roll, axis=(0, 1))[where] for shape in shapes)
            cover, light = boulder(*where, rock, bumps, grain)
            foot = step(np.asarray(self.v[where] - v - 0.5 * radius_v, dtype=np.float32), 0.35 * radius_v)
            mossy = 0.6 * step(np.asarray(0.5 * bumps + 0.4 * grain - 0.45, dtype=np.float32), 0.8) * (1 - foot)
            face = self.mixed(np.asarray(light * (1 + 0.08 * grain) * (1 - 0.45 * foot), np.float32), mossy, foot)
            picture[:, *where] = picture[:, *where] * (1 - cover) + face * cover
            covered[where] = np.maximum(covered[where], cover)
        return np.asarray(picture / np.maximum(covered, 1e-3), dtype=np.float32), covered

    # What moves

    def patch(self, top: float, bottom: float, left: float, right: float) -> Patch:
        """Return the patch between these shares of the window, kept inside the picture."""
        rows = np.clip([top * self.window[1] + MARGIN_PX, bottom * self.window[1] + MARGIN_PX], 0, self.shape[0])
        columns = np.clip([left * self.window[0] + MARGIN_PX, right * self.window[0] + MARGIN_PX], 0, self.shape[1])
        (row, end), (column, edge) = rows.astype(int) // 2 * 2, columns.astype(int) // 2 * 2
        return Patch(row=int(row), column=int(column), shape=(int(end - row), int(edge - column)))

    def drift(self, patch: Patch, envelope: Field, texture: Field, speed_px_s: float, slant: float) -> Water:
        """Return water drifting `slant` radians off straight down. A slant keeps every wave of the texture moving."""
        velocity = speed_px_s * float(np.cos(slant)), speed_px_s * float(np.sin(slant))
        mean_one = np.asarray(texture / texture.mean(), dtype=np.float32)
        drifting = Drifting(spectrum=spectrum_of(mean_one), shape=patch.shape, velocity_px_s=velocity)
        return Water(patch=patch, envelope=envelope[patch.slices].copy(), colour=FOAM, texture=drifting)

    def foam(self, patch: Patch, size_px: tuple[float, float], contrast: float = CONTRAST) -> Field:
        """Return an uneven texture of foam with grains of about `size_px` and finer."""
        unit = max(self.unit, 0.25)
        coarse = blobs(patch.shape, self.rng, (size_px[0] * unit, size_px[1] * unit))
        fine = blobs(patch.shape, self.rng, (max(size_px[0] * unit / 4, 0.9), max(size_px[1] * unit / 4, 0.9)))
        return np.asarray(np.exp(contrast * (0.8 * coarse + 0.6 * fine)), dtype=np.float32)

    def strands(self, depth: float, width_px: float) -> Field:
        """Return how thickly water runs down each line of the fall (mean about 1)."""
        lines = blobs(self.shape, self.rng, (240 * self.unit, width_px * self.unit))
        return np.asarray(np.exp(depth * lines - depth**2 / 2), dtype=np.float32)

    def falling(self, where: Field) -> tuple[Water, ...]:
        """Return the fall: long strands, shorter ones that lag, and flying drops."""
        patch = self.patch(-1, 0.66, 0.27, 0.68)
        thick = where * self.strands(0.5, 7) * (2.2 + 1.6 * np.clip(self.v, 0, 1))
        speed = self.motion.fall_px_s
        drops = sparks(patch.shape, self.rng, 2500, (1.3, 1.0))
        return (
            self.drift(patch, 0.62 * thick, self.foam(patch, (22, 4.5)), speed, 0.03),
            self.drift(patch, 0.38 * thick, self.foam(patch, (9, 4), 0.9), 0.8 * speed, -0.05),
            self.drift(patch, 0.10 * where, drops, 1.1 * speed, 0.08),
        )

    def running(self, where: Field) -> tuple[Water, ...]:
        """Return the run below the fall: sheets of foam that spread, brightest where the fall lands."""
        patch = self.patch(0.36, 0.80, 0.15, 0.80)
        landing = np.exp(-(((self.v - 0.55) / 0.06) ** 2))
        thick = where * self.strands(0.3, 14) * (2.1 + 1.7 * landing)
        speed = self.motion.run_px_s
        return (
            self.drift(patch, 0.40 * thick, self.foam(patch, (8, 9), 0.8), speed, 0.16),
            self.drift(patch, 0.35 * thick, self.foam(patch, (7, 7), 0.8), 0.8 * speed, -0.20),
            self.drift(patch, 0.25 * thick, self.foam(patch, (6, 10), 0.9), 0.6 * speed, -0.02),
            self.drift(patch, 0.08 * where, sparks(patch.shape, self.rng, 3000, (1.0, 1.0)), 1.2 * speed, 0.1),
        )

    def pooling(self, where: Field, rocks: Field) -> tuple[Water, ...]:
        """Return the pool: ripples under a soft sky, rafts of foam near the run and round the rocks, glints."""
        patch = self.patch(0.60, 2, -1, 2)
        near = np.exp(-np.clip(self.v - 0.68, 0, 1) / 0.09) * np.exp(-(((self.u - 0.47) / 0.24) ** 2))
        skirt = np.clip(2.2 * blur(rocks, (5 * self.unit, 9 * self.unit)) - 0.35, 0, 1)
        rafts = np.asarray(step(blobs(patch.shape, self.rng, (4 * self.unit, 15 * self.unit)) - 0.4, 0.9) + 0.03)
        speed = self.motion.pool_px_s
        sky = 0.50 + 0.40 * np.clip((self.v - 0.7) / 0.3, 0, 1)
        return (
            self.drift(patch, 0.6 * sky * where, self.foam(patch, (3.2, 15), 0.5), speed, 1.45),
            self.drift(patch, 0.4 * sky * where, self.foam(patch, (2.5, 11), 0.6), 0.8 * speed, 1.75),
            self.drift(patch, (2.6 * near + 0.5 * skirt) * where, rafts, 0.8 * speed, 1.2),
            self.drift(patch, 0.035 * where, sparks(patch.shape, self.rng, 700, (0.9, 1.3)), speed, 1.4),
        )

    def leaves(self) -> tuple[Leaves, ...]:
        """Return two sprays of leaves that hang into the upper right corner and do not swing together."""
        high = self.spray(self.patch(-1, 0.30, 0.62, 0.98), ((0.0, 0.9), (0.72, 0.12)), 26, 0.37)
        return high, self.spray(self.patch(-1, 0.52, 0.72, 2), ((0.0, 0.95), (0.80, 0.25)), 44, 0.0)

    def spray(
        self, patch: Patch, twig: tuple[tuple[float, float], tuple[float, float]], leaves: int, phase: float
    ) -> Leaves:
        """Return leaves on both sides of a twig between two places of a patch (shares down and right of it)."""
        cover, light = np.zeros(patch.shape, dtype=np.float32), np.zeros(patch.shape, dtype=np.float32)
        start, end = (np.array(place) * patch.shape for place in twig)
        heading = float(np.arctan2(end[0] - start[0], end[1] - start[1]))
        length = float(np.hypot(*(end - start)))
        parts = [(start, heading, length, 0.28, 0.022)]
        for number in range(leaves):
            place = start + (end - start) * (number + self.rng.random()) / leaves
            place = place + self.rng.normal(0, 0.05, 2) * length
            side = 0.75 * (-1) ** number + self.rng.normal(0, 0.3)
            parts.append((place, heading + side, 44 * self.unit * self.rng.uniform(0.7, 1.25), 1.0, 0.27))
        for place, angle, size, tone, width in parts:
            one, face = leaf(patch.shape, (float(place[0]), float(place[1])), angle, size, width)
            light = light * (1 - one) + one * face * tone * self.rng.uniform(0.55, 1.25)
            cover = cover * (1 - one) + one
        swing = Swaying(
            cover=spectrum_of(cover),
            light=spectrum_of(light),
            shape=patch.shape,
            reach_px=(0.35 * self.motion.leaves_px, self.motion.leaves_px),
            hz=self.motion.leaves_hz * (1 + 0.3 * phase),
            phase=phase,
        )
        return Leaves(patch=patch, colour=LEAF, clump=swing)
