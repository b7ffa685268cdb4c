"""Brushes for the simulated scene: noise, boulders and leaves as arrays.

Every brush takes the generator it draws from, so a scene is the same for the same seed. Fields are float32 of shape
(height, width) [px]; lengths are (down, right) [px].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tether.body.simulated.moving import Field, field_of, frequencies, spectrum_of

Generator = np.random.Generator
Colour = tuple[float, float, float]


def _white(shape: tuple[int, int], rng: Generator) -> Field:
    return rng.standard_normal(shape, dtype=np.float32)


def _standard(field: Field) -> Field:
    return np.asarray((field - field.mean()) / field.std(), dtype=np.float32)


def blur(field: Field, radius_px: tuple[float, float]) -> Field:
    """Return the field blurred by a Gaussian of the given radii; it wraps round at the edges."""
    fy, fx = frequencies((field.shape[0], field.shape[1]))
    gauss = np.exp(-2 * np.pi**2 * ((fy * radius_px[0]) ** 2 + (fx * radius_px[1]) ** 2)).astype(np.float32)
    return field_of(spectrum_of(field) * gauss, (field.shape[0], field.shape[1]))


def blobs(shape: tuple[int, int], rng: Generator, size_px: tuple[float, float]) -> Field:
    """Return periodic noise of one grain size, zero mean, unit deviation."""
    return _standard(blur(_white(shape, rng), size_px))


def crags(
    shape: tuple[int, int], rng: Generator, stretch: tuple[float, float] = (1.0, 1.0), slope: float = 1.6
) -> Field:
    """Return periodic noise of every size (amplitude ∝ 1/frequency^slope), zero mean, unit deviation."""
    fy, fx = frequencies(shape)
    size = np.hypot(fy * stretch[0], fx * stretch[1])
    size[0, 0] = 1.0
    return _standard(field_of(spectrum_of(_white(shape, rng)) * (size**-slope).astype(np.float32), shape))


def sparks(shape: tuple[int, int], rng: Generator, per_mpx: float, size_px: tuple[float, float]) -> Field:
    """Return scattered points of light of uneven strength, mean 1: glints and drops."""
    field = np.zeros(shape, dtype=np.float32)
    count = max(1, round(per_mpx * shape[0] * shape[1] / 1e6))
    where = rng.integers(0, shape[0], count), rng.integers(0, shape[1], count)
    field[where] = rng.exponential(size=count)
    soft = np.maximum(blur(field, size_px), 0)
    return np.asarray(soft / soft.mean(), dtype=np.float32)


def step(field: Field, softness: float) -> Field:
    """Return 0 well below zero, 1 well above it, and a smooth rise of the given half width between."""
    t = np.clip((field / softness + 1) / 2, 0, 1)
    return np.asarray(t * t * (3 - 2 * t), dtype=np.float32)


def lit(height: Field) -> Field:
    """Return how light a surface of the given height [px] is under a soft sky, brightest from the upper left (0..1)."""
    down, right = np.gradient(height)
    facing = (0.60 + 0.45 * right + 0.66 * down) / np.sqrt(1 + right**2 + down**2)
    return np.asarray(0.12 + np.clip(facing, 0, 1), dtype=np.float32)


@dataclass(frozen=True, kw_only=True)
class Boulder:
    """A rounded rock: centre and radii [px], and how dark it is (1: as the rest)."""

    centre_px: tuple[float, float]
    radius_px: tuple[float, float]
    tone: float


def boulder(rows: slice, columns: slice, rock: Boulder, bumps: Field, grain: Field) -> tuple[Field, Field]:
    """Return how much a boulder covers (0..1) and its luminance, within some rows and columns of the picture.

    `bumps` shapes its outline and faces, `grain` roughens its skin; both are noise of the size of the piece.
    """
    y, x = np.mgrid[rows, columns].astype(np.float32)
    dy, dx = (y - rock.centre_px[0]) / rock.radius_px[0], (x - rock.centre_px[1]) / rock.radius_px[1]
    dx = dx + 0.18 * dy  # a little lopsided, as rocks are
    inside = 1 - (np.abs(dx) ** 2.2 + np.abs(dy) ** 2.2) + 0.26 * bumps
    cover = step(np.asarray(inside, dtype=np.float32), 2.5 / min(rock.radius_px))
    dome = 0.62 * np.clip(inside, 0, 1) ** 0.55 + 0.10 * np.abs(bumps - 0.4) + 0.06 * bumps
    height = min(rock.radius_px) * dome + 1.3 * grain
    return cover, np.asarray(rock.tone * lit(np.asarray(height, dtype=np.float32)), dtype=np.float32)


def leaf(
    shape: tuple[int, int], base_px: tuple[float, float], angle: float, length_px: float, half_width: float
) -> tuple[Field, Field]:
    """Return how much one leaf covers (0..1) and its luminance: darker at its base and on one side of its midrib.

    `angle` is where it points [rad, clockwise from the right]; `half_width` is a share of its length.
    """
    y, x = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    dy, dx = y - base_px[0], x - base_px[1]
    along = (dx * np.cos(angle) + dy * np.sin(angle)) / length_px
    across = (dy * np.cos(angle) - dx * np.sin(angle)) / length_px
    reach = half_width * np.sin(np.pi * np.clip(along, 0, 1)) ** 0.8
    cover = step(np.asarray((reach - np.abs(across)) * length_px - 0.7, dtype=np.float32), 0.9)
    light = 0.65 + 0.5 * along + 0.35 * np.sign(across) * np.clip(np.abs(across) * 8, 0, 1)
    return cover, np.asarray(np.clip(light, 0.25, 1.5), dtype=np.float32)


def tinted(light: Field, colour: Colour) -> NDArray[np.float32]:
    """Return a luminance field as a picture of shape (3, height, width) in one colour."""
    return np.asarray(light[None] * np.array(colour, dtype=np.float32)[:, None, None], dtype=np.float32)
