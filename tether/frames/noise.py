"""Noise of the sensor, found in the frames themselves: gain and read noise, from what does not move between two frames.

Model: variance = K · signal + R², in raw numbers above black (photon transfer, EMVA 1288 4.0, without the 1/12 DN² of
the converter, which goes into R²).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Field = NDArray[np.float32]

#: Side of the squares in which noise is looked at [px of a plane].
SQUARE_PX = 16
#: A square whose variance lies above the line by more than this, as a factor, holds something that moves: more than
#: three standard deviations of the variance of SQUARE_PX² points.
_STILL = 1.3
_ROUNDS = 40
#: The line is begun from this share of the squares, the quietest for their level.
_QUIETEST = 0.1
#: Where pixels are left out, a square counts that keeps this share of them, and so many squares at least make a line.
_ENOUGH, _LEAST_SQUARES = 0.25, 8
#: A normal distribution's standard deviation in median absolute deviations.
MAD = 1.4826
#: Nothing is less noisy than rounding to whole numbers is [DN²].
_ROUNDING = 1 / 12


@dataclass(frozen=True, kw_only=True)
class Noise:
    """Noise of one channel.

    Attributes
    ----------
    gain
        K: raw numbers for one electron [DN/e-].
    read
        R: standard deviation of one reading [DN].
    """

    gain: float
    read: float

    def variance(self, signal: Field | NDArray[np.float64] | float) -> NDArray[np.float64]:
        """Return the variance [DN²] of a pixel whose mean is `signal` above black [DN]."""
        return np.asarray(self.gain * np.maximum(signal, 0) + self.read**2, dtype=np.float64)


def photon_transfer(means: NDArray[np.float64], variances: NDArray[np.float64]) -> Noise:
    """Return the noise that explains means above black [DN] and their variances [DN²]: the line through them.

    Raises ValueError where the means are all alike, so that there is no line.
    """
    if np.ptp(means) == 0:
        raise ValueError("noise can't be found from frames of a single level")
    gain, floor = np.polyfit(means, variances, 1)
    return Noise(gain=max(float(gain), 0.0), read=float(np.sqrt(max(floor, _ROUNDING))))


def noise_between(one: Field, other: Field, *, below: float | None = None) -> Noise:
    """Return the noise of two frames of one scene, with the same settings.

    Parameters
    ----------
    one, other
        The same plane of two frames, above black, shape (h, w) [DN]; not clipped.
    below
        Pixels above this level in either are left out [DN]; None: none is.

    Returns
    -------
    Noise
        From the quietest squares at each level: what moves or changes can only add to the differences. Where the
        whole picture moves it is too high.

    Raises
    ------
    ValueError
        Too little is left.
    """
    first, second = _squares(one), _squares(other)
    counts = np.ones(first.shape, dtype=bool) if below is None else np.maximum(first, second) < below
    enough = counts.sum(axis=1) >= _ENOUGH * counts.shape[1]
    if np.count_nonzero(enough) < (1 if below is None else _LEAST_SQUARES):
        raise ValueError("too little of the picture is below the level")
    first, second, counts = first[enough], second[enough], counts[enough]
    signal = ((first + second) / 2).mean(axis=1, where=counts)
    variance = (first - second).var(axis=1, ddof=1, where=counts) / 2
    floor, gain = lower_line(signal.astype(np.float64), variance.astype(np.float64))
    return Noise(gain=gain, read=float(np.sqrt(max(floor, _ROUNDING))))


def _squares(plane: Field) -> Field:
    """Return the squares of a plane as rows, shape (n, SQUARE_PX²)."""
    rows, columns = (size // SQUARE_PX for size in plane.shape)
    cut = plane[: rows * SQUARE_PX, : columns * SQUARE_PX]
    parts = cut.reshape(rows, SQUARE_PX, columns, SQUARE_PX).swapaxes(1, 2)
    return np.ascontiguousarray(parts.reshape(rows * columns, SQUARE_PX**2))


def lower_line(x: NDArray[np.float64], y: NDArray[np.float64]) -> tuple[float, float]:
    """Return floor and slope (both ≥ 0) of the line along the lower edge of points that spread with their height.

    It begins low and takes in all points up to `_STILL` times its own height, until it stands.
    """
    above = np.maximum(x, 1.0)
    floor, slope = 0.0, float(np.quantile(y / above, _QUIETEST))
    for _ in range(_ROUNDS):
        height = np.maximum(floor + slope * above, _ROUNDING)
        weight = np.where(y <= _STILL * height, 1 / height**2, 0.0)
        floor, slope = _weighted_line(x, y, weight)
    return floor, slope


def _weighted_line(x: NDArray[np.float64], y: NDArray[np.float64], weight: NDArray[np.float64]) -> tuple[float, float]:
    total, sum_x, sum_y = weight.sum(), (weight * x).sum(), (weight * y).sum()
    sum_xx, sum_xy = (weight * x * x).sum(), (weight * x * y).sum()
    spread = total * sum_xx - sum_x**2
    slope = (total * sum_xy - sum_x * sum_y) / spread if spread > 0 else sum_y / max(sum_x, 1e-9)
    floor = (sum_y - slope * sum_x) / total
    if floor < 0:
        return 0.0, float(max(sum_xy / sum_xx, 0.0))
    return (float(floor), float(slope)) if slope >= 0 else (float(sum_y / total), 0.0)
