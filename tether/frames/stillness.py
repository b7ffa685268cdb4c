"""How far the still rocks have moved since the base frame, and how much of their sharpness is lost.

Squares with texture are kept of the base frame, spread over the still region. Each square of a later frame is fitted as
brightness, offset and the base's gradients (least squares, iterated; B. D. Lucas and T. Kanade, 1981, from memory), and
the squares together as a shift, a turn and a zoom, so that a leaf or foam in some of them does not decide. Sharpness is
what of the base's fine texture comes back in the frame: noise, which is new in every frame, has no part in that.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import atan2, degrees, hypot

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from tether.exposure.optics import diffraction_mtf
from tether.files.raw import RawFrame
from tether.frames.noise import MAD
from tether.frames.patches import (
    Kept,
    Mask,
    Squares,
    corners_in,
    cut,
    looked_at,
    noise_in,
    noise_kept,
    plane_shape,
    point_in,
    spread,
)
from tether.journal.readings import Sharpness, Stillness

Numbers = NDArray[np.float64]


#: Side of a square's middle, what is kept around it, and how far it is looked for beyond that [px of the plane].
_CORE, _GUARD, _SEARCH = 32, 10, 16
_SIDE = _CORE + 2 * _GUARD
_MOST, _FEWEST, _CANDIDATES = 40, 6, 800
#: Smoothing for the search, for the shift, and the two whose difference is the fine texture; the coarse one tells how
#: bright the frame is and how strong its contrast [px of the plane].
_ROUGH, _SHIFT, _FINE, _FINE_LESS, _COARSE = 1.5, 1.0, 0.8, 1.8, 3.0
#: A square has texture where its gradients' variance along their weakest direction is so many times the noise's.
_TEXTURE = 4.0
#: Squares with more clipped pixels than this share are left out.
_CLIPPED_MAY_BE = 0.01
_ROUNDS = 5
#: No square is trusted to better than this [px of the plane, share squared].
_TRUSTED_PX, _TRUSTED_SHARE = 0.005, 0.05
#: Squares whose texture has this share of the others' brightness, or less, are shaded or covered.
_TOO_DARK = 0.2
#: Squares count less the farther they are off, and not at all from so many times the common scatter on.
_OFF = 4.0
#: What is not known to better than this is not told [px of the sensor, share].
_TOO_VAGUE_PX, _TOO_VAGUE_LOST = 0.35, 0.05


@dataclass(frozen=True, kw_only=True)
class Reference(Kept):
    """What is kept of the base frame's still region, corners of the squares' middles.

    Attributes
    ----------
    green
        Mean green above black, each square with a margin, shape (n, side, side) [DN].
    noise
        Variance of the noise in each square, shape (n,) [DN²].
    """

    green: Squares
    noise: Numbers


def reference(frame: RawFrame, still: Mask) -> Reference | None:
    """Return what to keep of a base frame, or None where its still region has too little texture or light.

    Parameters
    ----------
    frame
        The base frame; its shutter should be fast enough that nothing has moved in it.
    still
        The still region at plane resolution, shape (H/2, W/2).
    """
    shape = plane_shape(frame)
    corners = corners_in(still, side=_CORE, margin=_GUARD + _SEARCH, most=_CANDIDATES)
    if len(corners) < _FEWEST:
        return None
    squares = cut(frame, corners - _GUARD, _SIDE)
    green = squares.mean
    noise = noise_in(squares).variance(green.mean(axis=(1, 2)))
    texture = np.linalg.eigvalsh(_products(*[_gradients(green, _SHIFT)] * 2))[:, 0]
    score = texture / np.maximum(noise * noise_kept(_SHIFT), 1e-9)
    good = np.flatnonzero((score > _TEXTURE) & (squares.clipped <= _CLIPPED_MAY_BE))
    taken = good[spread(corners[good], score[good], shape, side=_CORE, most=_MOST)]
    if len(taken) < _FEWEST:
        return None
    return Reference(shape=np.array(shape), corners=corners[taken], green=green[taken], noise=noise[taken])


def stillness(base: Reference, frame: RawFrame) -> Stillness | None:
    """Return how a frame's still region lies against the base, or None where it is too dark, burnt or changed to tell.

    Parameters
    ----------
    base
        See :func:`reference`.
    frame
        A frame of the same body; how it was exposed need not be known. A shift of up to 32 px is found.

    Raises
    ------
    ValueError
        The frame is not as large as the base frame.
    """
    base.refuse_other_size(frame)
    squares = cut(frame, base.corners - (_GUARD + _SEARCH), _SIDE + 2 * _SEARCH)
    usable = squares.clipped <= _CLIPPED_MAY_BE
    if usable.sum() < _FEWEST:
        return None
    kept = base.of(usable)
    seen = squares.mean[usable]
    placed = _placed(kept, seen)
    if placed is None or 2 * placed.uncertainty_px > _TOO_VAGUE_PX:
        return None
    right, down, turn, grow = placed.motion * 2
    return Stillness(
        right_px=float(right),
        down_px=float(down),
        uncertainty_px=2 * placed.uncertainty_px,
        turned_px=float(turn),
        grown_px=float(grow),
        most_px=float(2 * np.hypot(*placed.moved.T).max()),
        sharpness=_sharpness(kept, seen, placed.moved, placed.weights),
        squares=len(seen),
    )


def diffraction(base: Reference, base_aperture: float, aperture: float, pitch_um: float) -> Sharpness | None:
    """Return what diffraction alone does to the sharpness, from base to frame; None where it can't be told.

    Parameters
    ----------
    base
        The base frame's texture, on which it depends a little.
    base_aperture, aperture
        f-numbers of base and frame.
    pitch_um
        Pixel pitch of the sensor [µm].
    """
    side = base.green.shape[1]
    cycles = np.hypot(fft.fftfreq(side)[:, None], fft.rfftfreq(side)[None, :]) / (2 * pitch_um)
    kept = np.vectorize(lambda f: diffraction_mtf(f, aperture) / max(diffraction_mtf(f, base_aperture), 1e-3))(cycles)
    # The edges fade out, so that a square may be taken to repeat.
    flat = (base.green - base.green.mean(axis=(1, 2), keepdims=True)) * np.hanning(side)[:, None] * np.hanning(side)
    seen = fft.irfft2(fft.rfft2(flat) * kept, s=(side, side)).astype(np.float32)
    faded = replace(base, green=flat.astype(np.float32), noise=np.zeros_like(base.noise))
    return _sharpness(faded, seen, np.zeros((len(seen), 2)), np.ones(len(seen)))


# Where the squares are


@dataclass(frozen=True, kw_only=True)
class _Placed:
    """Motion (right, down, turn, growth, the last two at the corners), what it is at each square, down first, and
    how much each counts [px of the plane]."""

    motion: Numbers
    moved: Numbers
    weights: Numbers
    uncertainty_px: float


def _placed(base: Reference, seen: Squares) -> _Placed | None:
    model = _model(base)
    moved = np.tile(_roughly(base.green, seen), (len(seen), 1)).astype(np.float64)
    regressors = _regressors(base.green)
    placed = None
    for _ in range(_ROUNDS):
        steps, information = _steps(regressors, looked_at(seen, _CORE, _SHIFT, moved=moved))
        placed = _together(model, moved + steps, information)
        moved = placed.moved
        if np.abs(moved).max() > _SEARCH + _GUARD / 2 or np.count_nonzero(placed.weights) < _FEWEST:
            return None
    return placed


def _roughly(green: Squares, seen: Squares) -> NDArray[np.int64]:
    """Return the shift down and to the right, in whole pixels, at which all squares together agree best."""
    core = _CORE + 2 * _SEARCH
    wanted, found = (
        np.hypot(*(looked_at(squares, size, _ROUGH, derive) for derive in ((1, 0), (0, 1))))
        for squares, size in ((green, _CORE), (seen, core))
    )
    wanted, found = (_standard(field) for field in (wanted, found))
    length = fft.next_fast_len(core, real=True)
    agreed = (fft.rfft2(found, s=(length, length)) * np.conj(fft.rfft2(wanted, s=(length, length)))).sum(axis=0)
    agreement = fft.irfft2(agreed, s=(length, length))[: 2 * _SEARCH + 1, : 2 * _SEARCH + 1]
    return np.array(np.unravel_index(int(agreement.argmax()), agreement.shape)) - _SEARCH


def _standard(squares: Squares) -> Squares:
    flat = squares - squares.mean(axis=(1, 2), keepdims=True)
    return np.asarray(flat / np.maximum(flat.std(axis=(1, 2), keepdims=True), 1e-9))


def _regressors(green: Squares) -> Squares:
    """Return brightness, offset and the two gradients of each square as columns, shape (n, points, 4)."""
    flat = looked_at(green, _CORE, _SHIFT)
    flat = flat - flat.mean(axis=(1, 2), keepdims=True)
    columns = np.stack([flat, np.ones_like(flat), *_gradients(green, _SHIFT).swapaxes(0, 1)], axis=-1)
    return np.asarray(columns.reshape(len(green), -1, 4))


def _steps(regressors: Squares, seen: Squares) -> tuple[Numbers, Numbers]:
    """Return how much further each square has moved, shape (n, 2), and what is known of that, shape (n, 2, 2)."""
    values = seen.reshape(len(seen), -1, 1)
    normal = (regressors.swapaxes(1, 2) @ regressors).astype(np.float64)
    normal += 1e-9 * np.trace(normal, axis1=1, axis2=2)[:, None, None] * np.eye(4)
    fitted = np.linalg.solve(normal, (regressors.swapaxes(1, 2) @ values).astype(np.float64))
    left = np.square(values - regressors @ fitted.astype(np.float32)).sum(axis=(1, 2), dtype=np.float64)
    # Smoothed noise is alike over some 4πσ² points.
    variance = left / values.shape[1] * 4 * np.pi * _SHIFT**2
    gain = np.maximum(fitted[:, 0, 0], 1e-9)
    steps = -fitted[:, 2:, 0] / gain[:, None]
    covariance = np.linalg.inv(normal)[:, 2:, 2:] * (variance / gain**2)[:, None, None]
    lit = fitted[:, 0, 0] > 0
    information = np.linalg.inv(covariance + _TRUSTED_PX**2 * np.eye(2)) * lit[:, None, None]
    return np.clip(steps, -_SEARCH, _SEARCH), information


def _model(base: Reference) -> Numbers:
    """Return, for each square, how motion (right, down, turn, growth) moves it down and right, shape (n, 2, 4)."""
    y, x = ((base.corners + _CORE / 2 - base.shape / 2) / (hypot(*base.shape) / 2)).T
    one, none = np.ones_like(x), np.zeros_like(x)
    return np.stack([np.stack([none, one, x, y], axis=1), np.stack([one, none, -y, x], axis=1)], axis=1)


def _together(model: Numbers, moved: Numbers, information: Numbers) -> _Placed:
    """Return the motion on which the squares agree; those far off it do not count (Tukey's weights)."""
    # Turn and growth are held to nothing where the squares lie too close together to tell them.
    motion = np.array([*np.median(moved[:, ::-1], axis=0), 0.0, 0.0])
    held = np.diag([1e-9, 1e-9, 1e-2, 1e-2])
    weights, scale, covariance = np.ones(len(moved)), 1.0, np.eye(4)
    for _ in range(_ROUNDS):
        off = moved - model @ motion
        distance = np.sqrt(np.einsum("ni,nij,nj->n", off, information, off))
        # The median of the length of a vector of two normal parts is 1.18.
        scale = max(float(np.median(distance)) / 1.18, 1.0)
        weights = np.square(np.maximum(1 - np.square(distance / (_OFF * scale)), 0.0))
        weighted = weights[:, None, None] * information
        normal = np.einsum("nki,nkl,nlj->ij", model, weighted, model) + held
        motion = np.linalg.solve(normal, np.einsum("nki,nkl,nl->i", model, weighted, moved))
        covariance = np.linalg.inv(normal) * scale**2
    at_squares = np.einsum("nki,ij,nkj->nk", model, covariance, model)
    return _Placed(
        motion=motion,
        moved=np.asarray(model @ motion),
        weights=weights,
        uncertainty_px=float(np.sqrt(at_squares.mean())),
    )


# How sharp they are


def _sharpness(base: Reference, seen: Squares, moved: Numbers, weights: Numbers) -> Sharpness | None:
    coarse, share, weight = _kept(base, seen, moved)
    weight = weight * (weights > 0)
    if np.count_nonzero(weight) < _FEWEST:
        return None
    middle, error = _middle(share, weight)
    if error > _TOO_VAGUE_LOST:
        return None
    near = np.abs(share - middle) <= _OFF * error * np.sqrt(np.count_nonzero(weight))
    along, across, degrees_along = _blur(base, seen, moved, weight * near / np.square(coarse), coarse)
    return Sharpness(
        lost=1 - middle,
        uncertainty=error,
        lower=1 - _quantile(share, weight, 0.75),
        upper=1 - _quantile(share, weight, 0.25),
        along_px2=along,
        across_px2=across,
        along_deg=degrees_along,
    )


def _kept(base: Reference, seen: Squares, moved: Numbers) -> tuple[Numbers, Numbers, Numbers]:
    """Return the gain of each square in coarse texture, the share of fine texture that is left, and its weight."""
    fine_then, coarse_then = _fine(base.green), _gradients(base.green, _COARSE)
    fine_now, coarse_now = _fine(seen, moved), _gradients(seen, _COARSE, moved)
    noise = base.noise * float(np.square(_fine(point_in(_SIDE))).sum())
    coarse = _agreement(coarse_now, coarse_then) / _agreement(coarse_then, coarse_then)
    then = _agreement(fine_then, fine_then) - noise
    lit = (coarse > _TOO_DARK * max(np.median(coarse), 0)) & (then > 0)
    coarse, then = np.where(lit, coarse, 1.0), np.where(lit, then, 1.0)
    share = _agreement(fine_now, fine_then) / coarse / then
    left = np.asarray(fine_now / coarse[:, None, None, None] - share[:, None, None, None] * fine_then, dtype=np.float32)
    return coarse, share, lit / (_agreement(left, left) / then + _TRUSTED_SHARE)


def _blur(
    base: Reference, seen: Squares, moved: Numbers, weights: Numbers, coarse: Numbers
) -> tuple[float, float, float]:
    """Return the variance of a blur along its longest direction and across it [px² of the sensor], and that direction.

    A blur adds half its covariance times the second derivatives: these are fitted to all squares as one, less what the
    base's own noise adds to their products.
    """
    then, noise = _curved(base.green), _curved(point_in(_SIDE))
    now = looked_at(seen, _CORE, _SHIFT, moved=moved).reshape(len(seen), -1, 1)
    now = now - now.mean(axis=1, keepdims=True)
    products = then.swapaxes(1, 2) @ then - (base.noise * then.shape[1])[:, None, None] * (noise.swapaxes(1, 2) @ noise)
    gains = weights * coarse
    normal = np.einsum("n,nij->ij", gains * coarse, products)
    found = np.linalg.solve(normal, np.einsum("n,nij->i", gains, then.swapaxes(1, 2) @ now))
    down, both, right = 2 * found[1:] / found[0]
    variances, directions = np.linalg.eigh(np.array([[down, both / 2], [both / 2, right]]))
    along = directions[:, 1]
    return 4 * float(variances[1]), 4 * float(variances[0]), degrees(atan2(along[0], along[1])) % 180


def _curved(green: Squares) -> Squares:
    """Return brightness and second derivatives (down, both, right) of squares as columns, shape (n, points, 4)."""
    fields = [looked_at(green, _CORE, _SHIFT, derive) for derive in ((0, 0), (2, 0), (1, 1), (0, 2))]
    columns = np.stack(fields, axis=-1).reshape(len(green), -1, 4)
    return np.asarray(columns - columns.mean(axis=1, keepdims=True))


def _agreement(one: Squares, other: Squares) -> Numbers:
    """Return the mean product of gradients of squares, shape (n,)."""
    return np.asarray(np.trace(_products(one, other), axis1=1, axis2=2))


def _middle(values: Numbers, weights: Numbers) -> tuple[float, float]:
    """Return the weighted median and its standard error from the median deviation."""
    middle = _quantile(values, weights, 0.5)
    spread_out = MAD * _quantile(np.abs(values - middle), weights, 0.5)
    count = weights.sum() ** 2 / np.square(weights).sum()
    return middle, float(1.2533 * spread_out / np.sqrt(count))


def _quantile(values: Numbers, weights: Numbers, share: float) -> float:
    return float(np.quantile(values, share, weights=weights, method="inverted_cdf"))


def _gradients(squares: Squares, sigma: float, moved: Numbers | None = None) -> Squares:
    """Return the gradients down and to the right of smoothed squares, shape (n, 2, core, core)."""
    return np.stack([looked_at(squares, _CORE, sigma, derive, moved) for derive in ((1, 0), (0, 1))], axis=1)


def _fine(squares: Squares, moved: Numbers | None = None) -> Squares:
    """Return the gradients of the fine texture of squares."""
    return np.asarray(_gradients(squares, _FINE, moved) - _gradients(squares, _FINE_LESS, moved))


def _products(one: Squares, other: Squares) -> Numbers:
    """Return the mean products of gradients, symmetric, shape (n, 2, 2)."""
    rows = [field.reshape(len(field), 2, -1) for field in (one, other)]
    found = (rows[0] @ rows[1].swapaxes(1, 2)).astype(np.float64) / rows[0].shape[-1]
    return (found + found.swapaxes(1, 2)) / 2
