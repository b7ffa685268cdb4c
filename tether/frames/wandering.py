"""A step in light that wanders: what changed between frames, told from how the light went meanwhile.

The light's logarithm is taken as a straight line in time, and beside it a wander that is alike at near moments and has
no rhythm (a Gaussian process of Matérn 3/2 kind), and scatter of its own in every frame. How strong and how fast the
wander is, nobody knows: everything from seconds to a quarter of an hour is weighed by how well it explains the frames
(Rasmussen and Williams, Gaussian Processes for Machine Learning, 2006, sections 2.7 and 5.4; the weights are the
restricted likelihood with the variance integrated out). So the interval knows of light that went where no frame saw it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import linalg, optimize, stats

Values = NDArray[np.float64]

#: How fast the wander may be [s], and which part of all variance may be scatter of single frames.
_TIMES_S = np.geomspace(4.0, 1000.0, 9)
_SCATTER = (1e-4, 1e-2, 0.1, 0.5, 1.0)
#: An exposure sees the mean of the light over its opening: it is looked at in so many places (Gauss and Legendre).
_PLACES, _WEIGHTS = np.polynomial.legendre.leggauss(3)
#: Nothing is measured better than this [stops].
_LEAST_STOPS = 1e-5
CONFIDENCE = 0.95


@dataclass(frozen=True, kw_only=True)
class Interval:
    """A value and half the width of its interval, within which the truth lies in 95 of 100 cases."""

    value: float
    half_width: float

    @property
    def significant(self) -> bool:
        """Whether the interval leaves out zero."""
        return abs(self.value) > self.half_width

    def __add__(self, other: Interval) -> Interval:
        return Interval(value=self.value + other.value, half_width=float(np.hypot(self.half_width, other.half_width)))

    def __sub__(self, other: Interval) -> Interval:
        return self + Interval(value=-other.value, half_width=other.half_width)

    def widened(self, standard_deviation: float) -> Interval:
        """Return it with the doubt of something else in it, which is no part of its scatter."""
        more = float(stats.norm.ppf((1 + CONFIDENCE) / 2)) * standard_deviation
        return Interval(value=self.value, half_width=float(np.hypot(self.half_width, more)))


@dataclass(frozen=True, kw_only=True)
class StepFound:
    """What was found: the step, how fast the light rose or fell [stops/min], and what is left of both [stops, rms]."""

    size: Interval
    per_minute: float
    wander_stops: float


@dataclass(frozen=True, kw_only=True)
class _Explained:
    """How one kind of wander explains the frames: coefficients, the first one's scale, and the log of its weight."""

    coefficients: Values
    scale: float
    log_weight: float


def step_in(values: Values, beside: Values, at_s: Values, open_s: Values) -> StepFound:
    """Find by how much values change with something, in light that drifts and wanders.

    Parameters
    ----------
    values
        Log levels of the frames for one and the same exposure, shape (n,) [stops]; n ≥ 5.
    beside
        What they may change with, shape (n,): for example 1 for frames with a filter, else 0.
    at_s, open_s
        The middle of every exposure, and how long it was, shape (n,) [s].

    Raises
    ------
    ValueError
        There are too few frames, or `beside` can't be told from the drift.
    """
    minutes = (at_s - at_s.mean()) / 60.0
    design = np.stack([beside, np.ones_like(values), minutes], axis=1)
    if len(values) < 5 or np.linalg.matrix_rank(design) < design.shape[1]:
        raise ValueError("five frames are needed at least, and some of them before, some after")
    found = [
        _explained(values, design, (1 - part) * alike + part * np.eye(len(values)))
        for alike in _alike(at_s, open_s)
        for part in _SCATTER
    ]
    freedom = len(values) - design.shape[1]
    logs = np.array([one.log_weight for one in found])
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    coefficients = weights @ np.array([one.coefficients for one in found])
    centres, scales = np.array([one.coefficients[0] for one in found]), np.array([one.scale for one in found])
    return StepFound(
        size=Interval(
            value=float(coefficients[0]),
            half_width=_half_width(float(coefficients[0]), centres, scales, weights, freedom),
        ),
        per_minute=float(coefficients[2]),
        wander_stops=float((values - design @ coefficients).std()),
    )


def _alike(at_s: Values, open_s: Values) -> list[Values]:
    """Return for every speed of the wander how alike the light of any two exposures is, shape (n, n)."""
    count, places = len(at_s), len(_PLACES)
    moments = (at_s[:, None] + open_s[:, None] / 2 * _PLACES).ravel()
    apart = np.abs(moments[:, None] - moments) * np.sqrt(3)
    weights = np.outer(_WEIGHTS, _WEIGHTS) / 4

    def seen(time_s: float) -> Values:
        pairs = (1 + apart / time_s) * np.exp(-apart / time_s)
        return np.asarray(np.einsum("iajb,ab->ij", pairs.reshape(count, places, count, places), weights))

    return [seen(float(time_s)) for time_s in _TIMES_S]


def _explained(values: Values, design: Values, covariance: Values) -> _Explained:
    """Return the generalised least squares of one kind of wander."""
    root = linalg.cholesky(covariance + 1e-9 * np.eye(len(values)), lower=True)
    plain = linalg.solve_triangular(root, np.column_stack([design, values]), lower=True)
    columns, wanted = plain[:, :-1], plain[:, -1]
    inverse = linalg.inv(columns.T @ columns)
    coefficients = inverse @ (columns.T @ wanted)
    freedom = len(values) - design.shape[1]
    rest = float(((wanted - columns @ coefficients) ** 2).sum()) + freedom * _LEAST_STOPS**2
    log_weight = -np.log(np.diag(root)).sum() + np.linalg.slogdet(inverse)[1] / 2 - freedom / 2 * np.log(rest)
    return _Explained(
        coefficients=coefficients, scale=float(np.sqrt(rest / freedom * inverse[0, 0])), log_weight=float(log_weight)
    )


def _half_width(centre: float, centres: Values, scales: Values, weights: Values, freedom: int) -> float:
    """Return how far to either side of its centre the mixture of Student's distributions holds 95 of 100."""

    def lacking(half: float) -> float:
        ends = stats.t.cdf((centre + half - centres) / scales, freedom) - stats.t.cdf(
            (centre - half - centres) / scales, freedom
        )
        return float(weights @ ends) - CONFIDENCE

    most = float(np.max(np.abs(centres - centre) + scales * stats.t.ppf(0.999, freedom)))
    return float(optimize.brentq(lacking, 0.0, most))
