"""How defined the water is in a frame, and how long a streak it drew.

Definition is the contrast of the water's texture against that of the still rocks in the same frame. The streak is found
from what moves: two short base frames tell how uneven the moving water is, wave by wave, and a longer frame how much of
that is left. An average over a drift of L leaves sinc²(k·L) of the power of a wave k, and so of the whole variance
(2/L) ∫ (1 − s/L) ρ(s) ds, ρ being the autocorrelation along the motion. What stands still is the same in all frames and
drops out.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from tether.files.raw import RawFrame
from tether.frames.noise import MAD
from tether.frames.patches import (
    Corners,
    Cut,
    Kept,
    Mask,
    Squares,
    corners_in,
    cut,
    looked_at,
    noise_in,
    plane_shape,
    point_in,
)
from tether.journal.readings import Definition, StreakSaid

Numbers = NDArray[np.float64]

_MOST, _FEWEST = 36, 6
#: Squares with more clipped pixels than this share are left out; in base frames, whose brightest foam is most of what
#: moves, the smaller one.
_CLIPPED_MAY_BE, _CLIPPED_IN_BASE = 0.01, 0.001

#: Squares no brighter than this above black are too dark [DN].
_DARKEST = 1.0

#: Side of a square's middle and what is around it, and the smoothing at both ends of the band of detail that counts as
#: texture, where definition is looked for [px of the plane].
_CORE, _GUARD, _FINE, _COARSE = 32, 12, 1.0, 4.0
#: Share of the squares that is left out at either end, by contrast.
_TRIMMED = 0.1

#: Side of the squares in which streaks are looked for, and the longest that is told from longer ones [px of the plane].
_SIDE, _LONGEST = 96, 64.0
#: Waves up to this frequency are looked at [1/px of the plane].
_FINEST, _BINS = 0.3, 256
#: The moving part of the base frames must have so many times the noise's power, all waves together.
_CONTRAST = 0.5
#: A base frame may be streaked itself, by so much [px of the plane].
_BASE_STREAK = 16.0


@dataclass(frozen=True, kw_only=True)
class WaterBase(Kept):
    """What is kept of two base frames' water.

    Attributes
    ----------
    one, other
        Contrast of the squares in both frames, their mean in both together being 0, shape (n, side, side).
    level
        That mean [DN above black], shape (n,).
    noise
        Variance of the noise in the contrast of one frame, shape (n,).
    """

    one: Squares
    other: Squares
    level: Numbers
    noise: Numbers


# Definition


def places(region: Mask) -> Corners | None:
    """Return up to 36 squares of a region at plane resolution to look for definition in; None where there are too few.

    They are first row and column of each square's middle, shape (n, 2) [px of the plane].
    """
    found = corners_in(region, side=_CORE, margin=_GUARD, most=_MOST)
    return found if len(found) >= _FEWEST else None


def definition(frame: RawFrame, water: Corners, still: Corners) -> Definition | None:
    """Return how defined the water is, or None where there is too little light or texture to tell, or it is burnt.

    Parameters
    ----------
    frame
        Any frame; how it was exposed need not be known.
    water, still
        The squares to look at, see :func:`places`; the same for all frames that are compared.
    """
    squares = cut(frame, np.concatenate([water, still]) - _GUARD, _CORE + 2 * _GUARD)
    usable = squares.clipped <= _CLIPPED_MAY_BE
    energy = _energy(squares)
    wet = np.arange(len(energy)) < len(water)
    in_water, in_rock = (_trimmed(energy[usable & where & np.isfinite(energy)]) for where in (wet, ~wet))
    if in_water is None or in_rock is None:
        return None
    (water_energy, water_error), (rock_energy, rock_error) = in_water, in_rock
    if rock_energy <= 3 * rock_error:
        return None
    ratio = max(water_energy, 0.0) / rock_energy
    ratio_error = np.hypot(water_error, ratio * rock_error) / rock_energy
    value = ratio**0.5
    # Near silk the error of the root is no longer that of its derivative.
    uncertainty = min(ratio_error / (2 * value) if value > 0 else inf, ratio_error**0.5)
    return Definition(
        value=value, uncertainty=float(uncertainty), water=max(water_energy, 0.0) ** 0.5, rock=rock_energy**0.5
    )


def _energy(squares: Cut) -> Numbers:
    """Return the mean square contrast of each square's texture, less the noise's; not a number in the dark."""
    green = squares.mean
    coarse = looked_at(green, _CORE, _COARSE)
    band = looked_at(green, _CORE, _FINE) - coarse
    level = green.mean(axis=(1, 2), dtype=np.float64)
    variance = noise_in(squares).variance(level)
    point = point_in(_CORE + 2 * _GUARD)
    noise_kept = np.square(looked_at(point, _CORE, _FINE) - looked_at(point, _CORE, _COARSE)).sum()
    lit = coarse.min(axis=(1, 2)) > 0
    contrast = band / np.where(lit[:, None, None], coarse, 1.0)
    energy = (
        np.square(contrast).mean(axis=(1, 2), dtype=np.float64) - variance * noise_kept / np.where(lit, level, 1.0) ** 2
    )
    return np.where(lit, energy, np.nan)


def _trimmed(values: Numbers) -> tuple[float, float] | None:
    """Return the trimmed mean and its standard error (J. W. Tukey, from memory); None where there are too few."""
    if len(values) < _FEWEST:
        return None
    ordered, left_out = np.sort(values), int(_TRIMMED * len(values))
    kept = ordered[left_out : len(values) - left_out]
    pulled_in = np.clip(ordered, kept[0], kept[-1])
    return float(kept.mean()), float(pulled_in.std(ddof=1) / (1 - 2 * _TRIMMED) / len(values) ** 0.5)


# Streaks


def water_base(one: RawFrame, other: RawFrame, water: Mask) -> WaterBase | None:
    """Return what to keep of two base frames to measure streaks against, or None where there is too little water.

    Parameters
    ----------
    one, other
        Two frames with the same settings, as short as can be, so far apart in time that the water has moved on.
    water
        The water at plane resolution, shape (H/2, W/2).
    """
    corners = corners_in(water, side=_SIDE, margin=0, most=_MOST)
    if len(corners) < _FEWEST:
        return None
    squares = [cut(frame, corners, _SIDE) for frame in (one, other)]
    level = np.mean([part.mean.mean(axis=(1, 2), dtype=np.float64) for part in squares], axis=0)
    clipped = np.maximum(squares[0].clipped, squares[1].clipped)
    good = (clipped <= _CLIPPED_IN_BASE) & (level > _DARKEST)
    if np.count_nonzero(good) < _FEWEST:
        return None
    level = level[good]
    noise = np.mean([noise_in(part).variance(level) for part in squares], axis=0)
    contrasts = [(part.mean[good] / level[:, None, None] - 1).astype(np.float32) for part in squares]
    return WaterBase(
        shape=np.array(plane_shape(one)),
        corners=corners[good],
        one=contrasts[0],
        other=contrasts[1],
        level=level,
        noise=noise / level**2,
    )


def streak(
    base: WaterBase, frame: RawFrame, *, base_share: float = 0.0, moved_px: tuple[float, float] = (0.0, 0.0)
) -> StreakSaid:
    """Return how long a streak the water drew in a frame, or why that can't be told.

    In simulation, with 36 squares of fine foam, it is found to some 10 % from 10 to 120 px; with few squares of a fall
    whose strands are long and whose layers differ in speed, to some 40 % from 20 px (`tests/bench/streaks.py`).

    Parameters
    ----------
    base
        See :func:`water_base`.
    frame
        A frame of the same body.
    base_share
        The base frames' time over this frame's: how much of the streak they have themselves.
    moved_px
        How far right and down the picture lies of the base frames' [px of the sensor].

    Raises
    ------
    ValueError
        The frame is not as large as the base frames.
    """
    base.refuse_other_size(frame)
    moved = np.array(moved_px)[::-1] / 2
    corners = base.corners + np.rint(moved).astype(np.int64)
    within = np.flatnonzero(((corners >= 0) & (corners + _SIDE <= base.shape)).all(axis=1))
    squares = cut(frame, corners[within], _SIDE)
    clear = squares.clipped <= _CLIPPED_MAY_BE
    if np.count_nonzero(clear) < _FEWEST:
        return StreakSaid(why="Too little of the water can be seen, or it is clipped.")
    kept, green = base.of(within[clear]), squares.mean[clear]
    level = green.mean(axis=(1, 2), dtype=np.float64)
    # The light of one square flickers with its foam, that of all of them much less.
    level_there = float(np.median(level / kept.level)) * kept.level
    if level_there.min() <= _DARKEST:
        return StreakSaid(why="The water is too dark.")
    contrast = np.asarray(green / level_there[:, None, None] - 1, dtype=np.float32)
    noise = noise_in(squares).variance(level) / level_there**2
    then, now = _powers(kept, contrast, noise, moved - np.rint(moved))
    if np.median(then.sum(axis=(1, 2)) / (kept.noise * _counted().sum())) < _CONTRAST:
        return StreakSaid(why="The water in the base frames has too little contrast.")
    return _told(*_lengths(then, now, base_share), base_share, _apart(kept.corners))


def _powers(base: WaterBase, contrast: Squares, noise: Numbers, moved: Numbers) -> tuple[Numbers, Numbers]:
    """Return the power of the moving part by wave and square, in the base and in the frame."""
    one, other, frame = _waves(base.one), _waves(base.other), _waves(contrast) * _phase(moved)
    then = np.square(np.abs(one - other)) / 2 - base.noise[:, None, None]
    now = np.square(np.abs(frame)) - (frame * np.conj(one + other) / 2).real - noise[:, None, None]
    return then * _counted(), now * _counted()


def _lengths(then: Numbers, now: Numbers, base_share: float) -> tuple[Numbers, Numbers]:
    """Return the streak's length in each square [px of the plane; infinite: longer than all], and its direction [°].

    Waves count by their squared slope, so that the coarsest, of which a square holds only few, do not decide. The
    direction is the one along which most of that is lost.
    """
    down, right = _frequencies()
    slopes = np.stack([down * down + 0 * right, down * right, right * right + 0 * down])
    before, after = (np.einsum("nyx,syx->ns", power, slopes) for power in (then, now))
    along = np.array([_most_lost(*pair) for pair in zip(before, after, strict=True)])
    waves = np.abs(along[:, :1, None] * down + along[:, 1:, None] * right)
    lengths = np.arange(0, _SIDE, 1.0)
    middles = (np.arange(_BINS) + 0.5) / _BINS * _FINEST
    kept = _kept(lengths[:, None] * middles, base_share)
    found = []
    for index, wave in enumerate(waves):
        bins = np.minimum((wave / _FINEST * _BINS).astype(np.int64), _BINS - 1)
        share = np.bincount(bins.ravel(), (then[index] * (slopes[0] + slopes[2])).ravel(), minlength=_BINS)
        left = (after[index, 0] + after[index, 2]) / (before[index, 0] + before[index, 2])
        found.append(_where_falls_to(left, lengths, kept @ share / share.sum()))
    return np.array(found), np.degrees(np.arctan2(along[:, 0], along[:, 1])) % 180


def _most_lost(before: Numbers, after: Numbers) -> Numbers:
    """Return the direction (down, right) along which squared slopes (down, both, right) fell most."""
    then, now = (np.array([[part[0], part[1]], [part[1], part[2]]]) for part in (before, after))
    shares, directions = np.linalg.eig(np.linalg.solve(then, now))
    return np.asarray(directions[:, int(np.argmin(shares.real))].real)


def _kept(cycles: Numbers, base_share: float) -> Numbers:
    """Return what is left of the power of waves of which a streak holds so many, the base having a share of it."""
    in_base = np.maximum(np.square(np.sinc(cycles * base_share)), 0.1)
    return np.asarray(np.minimum(np.square(np.sinc(cycles)) / in_base, 1.0))


def _where_falls_to(value: float, lengths: Numbers, left: Numbers) -> float:
    """Return the length at which a falling curve comes down to a value; infinite if it never does."""
    falling = np.minimum.accumulate(left)
    if value < falling[-1]:
        return np.inf
    return float(np.interp(-value, -falling, lengths))


def _told(lengths: Numbers, angles: Numbers, base_share: float, apart: float) -> StreakSaid:
    middle, lower, upper = (float(np.quantile(lengths, share, method="nearest")) for share in (0.5, 0.25, 0.75))
    upper_px = 2 * upper if upper <= _LONGEST else None
    if middle > _LONGEST:
        return StreakSaid(why="The streak is longer than can be told.", at_least_px=2 * min(lower, _LONGEST))
    if base_share * middle > _BASE_STREAK:
        return StreakSaid(why="The water in the base frames is streaked itself.", at_least_px=2 * lower)
    # The middle of n normal values is off by 1.25 of their deviation over √n.
    deviation = MAD * float(np.median(np.minimum(np.abs(lengths - middle), _SIDE)))
    uncertainty = 1.2533 * deviation / apart**0.5
    if lower == 0 or middle < 2 * uncertainty:
        return StreakSaid(why="The streak is too short, or too uneven, to be told.", at_most_px=upper_px)
    return StreakSaid(
        length_px=2 * middle,
        uncertainty_px=2 * uncertainty,
        lower_px=2 * lower,
        upper_px=upper_px,
        # Directions 180° apart are the same.
        along_deg=float(np.degrees(np.angle(np.exp(2j * np.radians(angles)).mean())) / 2 % 180),
    )


def _apart(corners: Corners) -> float:
    """Return how many squares would cover what these, which may overlap, cover together."""
    quarters = corners[:, None] // (_SIDE // 4) + np.indices((4, 4)).reshape(2, 16).T
    return len(np.unique(quarters.reshape(-1, 2), axis=0)) / 16


# Waves of a square


def _waves(squares: Squares) -> NDArray[np.complex64]:
    """Return the half spectra of squares that fade out to their edges, scaled so that noise has its own variance."""
    fade = np.hanning(_SIDE)[:, None] * np.hanning(_SIDE)
    flat = squares - (squares * fade).sum(axis=(1, 2), keepdims=True) / fade.sum()
    return np.asarray(fft.rfft2((flat * fade / np.sqrt(np.square(fade).sum())).astype(np.float32)))


def _frequencies() -> tuple[Numbers, Numbers]:
    """Return the frequencies of a half spectrum, down as a column and to the right as a row [1/px of the plane]."""
    return fft.fftfreq(_SIDE)[:, None], fft.rfftfreq(_SIDE)[None, :]


def _phase(moved: Numbers) -> NDArray[np.complex64]:
    """Return the factor that brings back a picture that has moved down and to the right."""
    down, right = _frequencies()
    return np.asarray(np.exp(2j * np.pi * (down * moved[0] + right * moved[1])), dtype=np.complex64)


def _counted() -> Numbers:
    """Return how often each wave of the half spectrum counts: twice with its mirror image, not at all past the band."""
    down, right = _frequencies()
    size = np.hypot(down, right)
    twice = np.where((right > 0) & (right < 0.5), 2.0, 1.0)
    return np.asarray(twice * ((size > 0) & (size <= _FINEST)))
