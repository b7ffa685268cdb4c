"""What is known of the light and of the glass, apart: one state over a ladder, told by the levels of its frames.

A frame's still parts come out brighter or darker than its settings say by

    the light now (against the base) + what its pieces of glass and its settings do beyond what they say + scatter.

The light's logarithm is a level with a rate of rise, both of which wander (an integrated random walk), and beside that
a wander that comes back: clouds (a Gaussian process of Matérn 3/2 kind, as a state: J. Hartikainen and S. Särkkä 2010).
Each piece of glass, each f-number and each ISO value other than the base's is off by a constant. All is linear and
Gaussian: a Kalman filter (R. E. Kalman 1960; A. Gelb, ed., Applied Optimal Estimation, 1974, chapter 4) takes frames in
as they come, its smoother (H. E. Rauch, F. Tung and C. T. Striebel 1965) tells afterwards. How restless the light is
nobody knows: several :data:`KINDS` are carried side by side, weighed by how well each foretold the frames (Gelb,
chapter 9: multiple models), and one gives way to another with time.

Moments are seconds [s], light and glass stops; positive is brighter throughout.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from math import exp, hypot, inf, log, log2, pi, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tether.light.acting import Term

Values = NDArray[np.float64]


#: How fast the light may rise or fall before a frame has told [stops/min].
RATE_STOPS_PER_MINUTE = 0.15


@dataclass(frozen=True, kw_only=True)
class Kind:
    """How restless the light may be.

    Attributes
    ----------
    wander_stops, minutes
        How far it wanders beside its course, rms [stops], and for how long [min].
    turn
        How fast its rate changes [stops/min in the square root of a minute].
    share
        How likely that is before any frame.
    rate
        How fast the light may rise or fall before a frame has told [stops/min]. Under clouds hardly at all: what a
        cloud takes it gives back, and must not be taken for a fall that goes on.
    """

    wander_stops: float
    minutes: float
    turn: float
    share: float
    rate: float = RATE_STOPS_PER_MINUTE


#: From the clear evening to broken cloud (own choice, held against drawn skies, see decision note 33).
KINDS = (
    Kind(wander_stops=0.003, minutes=2.0, turn=0.001, share=0.35),
    Kind(wander_stops=0.003, minutes=2.0, turn=0.01, share=0.23),
    Kind(wander_stops=0.04, minutes=1.0, turn=0.005, share=0.035),
    Kind(wander_stops=0.04, minutes=8.0, turn=0.005, share=0.035),
    Kind(wander_stops=0.4, minutes=1.0, turn=0.003, share=0.175, rate=0.02),
    Kind(wander_stops=0.4, minutes=3.0, turn=0.003, share=0.175, rate=0.02),
)
#: No level is known better than this [stops].
LEAST_STOPS = 0.003
#: What is off by more than so many of its standard deviations is not what it says: nothing is believed of it.
_NOT_WHAT_IT_SAYS, _ANYTHING_STOPS = 3.0, 5.0
#: Light that is known no better was seen so long ago that it may be anything, before any glass is [stops].
_LONG_AGO_STOPS = 1.0
_LEVEL, _RATE, _WANDER, _TERMS = 0, 1, 2, 4
#: One kind of weather gives way to another within so long [min] (own choice).
_WEATHER_MINUTES = 16.0
#: Means over an opening are taken in so many places (Gauss and Legendre).
_PLACES, _SHARES = np.polynomial.legendre.leggauss(5)


@dataclass(frozen=True, kw_only=True)
class LightSeen:
    """A frame: when it opened and how long it was open, how much brighter than its settings say, and what acts."""

    opened_s: float
    open_s: float
    off_stops: float
    doubt_stops: float
    terms: tuple[Term, ...] = ()

    @property
    def middle_s(self) -> float:
        """The middle of the exposure [s]."""
        return self.opened_s + self.open_s / 2


@dataclass(frozen=True, kw_only=True)
class LightEstimate:
    """A value and how far it may be off, one standard deviation [stops]."""

    stops: float
    doubt_stops: float


class FrameTold(NamedTuple):
    """What all frames tell of one of them: the light over its opening, and what its terms did to it [stops]."""

    light: LightEstimate
    terms: LightEstimate


@dataclass(frozen=True)
class _Belief:
    """What one kind of light believes: state, covariance, the moment, and how well it foretold frames (log)."""

    kind: Kind
    mean: Values
    cov: Values
    at_s: float
    log_weight: float

    def at(self, at_s: float) -> _Belief:
        """Return the belief at another moment, not before its own."""
        minutes = max(at_s - self.at_s, 0.0) / 60
        step, noise = _step(self.kind, minutes, len(self.mean))
        return replace(self, mean=step @ self.mean, cov=step @ self.cov @ step.T + noise, at_s=at_s)

    def mean_at(self, at_s: float) -> Values:
        """Return the state to be expected at another moment, not before its own."""
        step, _ = _step(self.kind, max(at_s - self.at_s, 0.0) / 60, len(self.mean))
        return np.asarray(step @ self.mean)

    def with_terms(self, doubts: Sequence[float]) -> _Belief:
        """Return it with terms added that nothing is known of but how far they may be off."""
        if not doubts:
            return self
        size = len(self.mean) + len(doubts)
        cov = np.zeros((size, size))
        cov[: len(self.mean), : len(self.mean)] = self.cov
        cov[range(len(self.mean), size), range(len(self.mean), size)] = np.square(doubts)
        return replace(self, mean=np.append(self.mean, np.zeros(len(doubts))), cov=cov)

    def looks(self, acting: Sequence[int]) -> Values:
        """Return what of the state a frame sees: the light, and the terms at these places."""
        row = np.zeros(len(self.mean))
        row[[_LEVEL, _WANDER, *(_TERMS + place for place in acting)]] = 1.0
        return row

    def told(self, row: Values) -> tuple[float, float]:
        """Return a sum of the state, and its variance."""
        return float(row @ self.mean), float(row @ self.cov @ row)

    def updated(self, row: Values, off_stops: float, variance: float) -> _Belief:
        """Return it after a frame that was off by so much."""
        expected, spread = self.told(row)
        whole = spread + variance
        missed = off_stops - expected
        gain = self.cov @ row / whole
        cov = self.cov - np.outer(gain, row @ self.cov)
        return replace(
            self,
            mean=self.mean + gain * missed,
            cov=(cov + cov.T) / 2,
            log_weight=self.log_weight - (missed**2 / whole + log(2 * pi * whole)) / 2,
        )


def _step(kind: Kind, minutes: float, size: int) -> tuple[Values, Values]:
    """Return how a state goes on over so many minutes, and how uncertain that is."""
    step, noise = np.eye(size), np.zeros((size, size))
    step[_LEVEL, _RATE] = minutes
    turn = kind.turn**2
    noise[_LEVEL, _LEVEL], noise[_RATE, _RATE] = turn * minutes**3 / 3, turn * minutes
    noise[_LEVEL, _RATE] = noise[_RATE, _LEVEL] = turn * minutes**2 / 2
    pace = sqrt(3) / kind.minutes
    wander = slice(_WANDER, _TERMS)
    lasts = exp(-pace * minutes) * np.array([[1 + pace * minutes, minutes], [-(pace**2) * minutes, 1 - pace * minutes]])
    whole = _wander_at_first(kind)
    step[wander, wander], noise[wander, wander] = lasts, whole - lasts @ whole @ lasts.T
    return step, noise


def _wander_at_first(kind: Kind) -> Values:
    """Return how far the wander and its rate may be off 0 when nothing has told."""
    return kind.wander_stops**2 * np.diag([1.0, 3 / kind.minutes**2])


def _blur(kind: Kind, open_s: float) -> float:
    """Return the variance of the wander's mean over an opening against its middle [stops²]."""
    moments, shares = _PLACES * open_s / 120, _SHARES / 2

    def alike(minutes: Values) -> Values:
        apart = sqrt(3) * np.abs(minutes) / kind.minutes
        return np.asarray((1 + apart) * np.exp(-apart))

    mean = shares @ alike(moments[:, None] - moments) @ shares
    return kind.wander_stops**2 * max(float(1 + mean - 2 * shares @ alike(moments)), 0.0)


def _flat(_at_s: float) -> float:
    return 0.0


@dataclass(frozen=True, kw_only=True)
class LightState:
    """What is known of light and glass after some frames.

    Attributes
    ----------
    expected
        The light to be expected by the sun, against the base's moment, as a function of the moment [stops]; what is
        told of the light is this and how far the light is off it.
    weather_minutes
        One kind of weather gives way to another within so long [min].
    """

    beliefs: tuple[_Belief, ...]
    names: tuple[str, ...] = ()
    expected: Callable[[float], float] = field(default=_flat)
    weather_minutes: float = _WEATHER_MINUTES

    @classmethod
    def at_base(
        cls,
        at_s: float,
        *,
        rises_stops_per_minute: float = 0.0,
        expected: Callable[[float], float] = _flat,
        kinds: Sequence[Kind] = KINDS,
    ) -> LightState:
        """Begin at the base, whose light is 0.

        Parameters
        ----------
        at_s
            The middle of the base exposure [s].
        rises_stops_per_minute
            How fast the light is thought to rise beside what is expected [stops/min].
        """
        beliefs = []
        for kind in kinds:
            cov = np.diag([kind.wander_stops**2, kind.rate**2, 0.0, 0.0])
            cov[_WANDER:, _WANDER:] = _wander_at_first(kind)
            begun = _Belief(kind, np.array([0.0, rises_stops_per_minute, 0.0, 0.0]), cov, at_s, log(kind.share))
            told = begun.updated(begun.looks(()), 0.0, LEAST_STOPS**2)
            beliefs.append(replace(told, log_weight=begun.log_weight))  # the base is 0 in any weather
        return cls(beliefs=tuple(beliefs), expected=expected)

    @property
    def follows_the_sun(self) -> bool:
        """Whether the sun's course is counted on."""
        return self.expected is not _flat

    def knows(self, name: str) -> bool:
        """Say whether a frame has told something of a term."""
        return name in self.names

    def saw(self, seen: LightSeen) -> LightState:
        """Return what is known after one more frame, which must not be older than those before it."""
        state = self._with_terms(seen.terms)
        acting = state._places(seen.terms)
        off = seen.off_stops - self._course_stops(seen.opened_s, seen.open_s, self._beside_the_sun)
        beliefs = []
        for belief in state._weather_may_change(seen.middle_s).beliefs:
            now = belief.at(seen.middle_s)
            variance = hypot(seen.doubt_stops, LEAST_STOPS) ** 2 + _blur(belief.kind, seen.open_s)
            beliefs.append(now.updated(now.looks(acting), off, variance))
        return replace(state, beliefs=tuple(beliefs))._surprised(self, seen)

    def _surprised(self, before: LightState, seen: LightSeen) -> LightState:
        """Return it with new terms taken for anything, where a frame is off by far more than they may be."""
        new = [term for term in seen.terms if term.mistakable and not before.knows(term.name)]
        if not new or max(term.doubt_stops for term in new) >= _ANYTHING_STOPS:
            return self
        foretold = before.foretold(seen.opened_s, seen.open_s, seen.terms)
        missed = seen.off_stops - foretold.stops
        doubtful = max(new, key=lambda term: term.doubt_stops)
        light_doubt = before.light(seen.middle_s).doubt_stops
        may_be = max(doubtful.doubt_stops, 0.1, light_doubt if light_doubt > _LONG_AGO_STOPS else 0.0)
        if abs(missed) <= _NOT_WHAT_IT_SAYS * may_be:
            return self
        anything = replace(doubtful, doubt_stops=_ANYTHING_STOPS)
        return before.saw(replace(seen, terms=tuple(anything if one == doubtful else one for one in seen.terms)))

    def loosened(self, by_stops: float) -> LightState:
        """Return it after something was changed in front of the lens: the level may be off by so much more [stops]."""
        more = np.zeros(_TERMS)
        more[_LEVEL] = by_stops**2
        return replace(
            self,
            beliefs=tuple(
                replace(one, cov=one.cov + np.diag(np.append(more, np.zeros(len(one.mean) - _TERMS))))
                for one in self.beliefs
            ),
        )

    def light(self, at_s: float) -> LightEstimate:
        """Return the light at a moment, not before the last frame, against the base's [stops]."""
        return self.foretold(at_s, 0.0, ())

    @property
    def last_s(self) -> float:
        """The middle of the last frame that told of it [s]."""
        return self.beliefs[0].at_s

    def rate(self, at_s: float) -> float:
        """Return how fast the light rises at a moment [stops/min]."""
        by_the_sun = self.expected(at_s + 30) - self.expected(at_s - 30)
        return by_the_sun + self._beside_the_sun

    def rate_known(self, at_s: float) -> LightEstimate:
        """Return how fast the light rises at a moment, not before the last frame, and how far that may be off."""
        beside = self._mixed(
            (float(now.mean[_RATE]), float(now.cov[_RATE, _RATE])) for now in (one.at(at_s) for one in self.beliefs)
        )
        return replace(beside, stops=self.rate(at_s))

    def term(self, name: str) -> LightEstimate:
        """Return by how much a term makes frames brighter than it says [stops]; 0 without doubt where nothing told."""
        if name not in self.names:
            return LightEstimate(stops=0.0, doubt_stops=0.0)
        place = _TERMS + self.names.index(name)
        return self._mixed((float(one.mean[place]), float(one.cov[place, place])) for one in self.beliefs)

    def foretold(self, opens_s: float, open_s: float, terms: Sequence[Term]) -> LightEstimate:
        """Return how much brighter than its settings say a frame will come out, over its opening [stops]."""
        state = self._with_terms(terms)
        acting = state._places(terms)
        middle_s = opens_s + open_s / 2
        moments = middle_s + _PLACES * open_s / 2
        parts = []
        for belief in state.beliefs:
            then = belief.at(middle_s)
            row = then.looks(acting)
            mean = sum(
                share * float(row @ belief.mean_at(at_s)) for at_s, share in zip(moments, _SHARES / 2, strict=True)
            )
            parts.append((mean, then.told(row)[1] + _blur(belief.kind, open_s)))
        told = self._mixed(parts)
        return replace(told, stops=told.stops + self._course_stops(opens_s, open_s, self._beside_the_sun))

    def _course_stops(self, opens_s: float, open_s: float, rate: float) -> float:
        """Return the light that is expected over an opening, and how much more than at its middle it goes by [stops].

        The mean of the light itself and not of its logarithm: of the sun's course, and of a rate beside it [stops/min].
        """
        from_middle_s = _PLACES * open_s / 2
        middle_s = opens_s + open_s / 2
        goes = rate * from_middle_s / 60
        by_the_sun = [self.expected(middle_s + float(at_s)) for at_s in from_middle_s]
        return log2(float(_SHARES / 2 @ np.exp2(goes + by_the_sun)))

    @property
    def _beside_the_sun(self) -> float:
        """How fast the light rises beside what is expected [stops/min]."""
        return float(self._weights @ [belief.mean[_RATE] for belief in self.beliefs])

    def _told_of(self, seen: LightSeen, kinds: Sequence[tuple[Values, Values]]) -> FrameTold:
        """Return what is told of a frame by state and covariance then, of each kind of light."""
        light = self.beliefs[0].looks(())
        terms = self.beliefs[0].looks(self._places(seen.terms)) - light
        by_light, by_terms = (
            self._mixed((float(row @ mean), float(row @ cov @ row)) for mean, cov in kinds) for row in (light, terms)
        )
        rate = float(self._weights @ [mean[_RATE] for mean, _ in kinds])
        goes_stops = self._course_stops(seen.opened_s, seen.open_s, rate)
        return FrameTold(light=replace(by_light, stops=by_light.stops + goes_stops), terms=by_terms)

    def _with_terms(self, terms: Sequence[Term]) -> LightState:
        new = [term for term in terms if term.name not in self.names]
        if not new:
            return self
        doubts = [term.doubt_stops for term in new]
        names = (*self.names, *(term.name for term in new))
        return replace(self, names=names, beliefs=tuple(one.with_terms(doubts) for one in self.beliefs))

    def _places(self, terms: Sequence[Term]) -> list[int]:
        return [self.names.index(term.name) for term in terms]

    def _weather_may_change(self, at_s: float) -> LightState:
        """Return it with what speaks for each kind of light forgotten, the longer ago it was."""
        stays = exp(-max(at_s - self.beliefs[0].at_s, 0.0) / 60 / self.weather_minutes)
        return replace(
            self,
            beliefs=tuple(
                replace(one, log_weight=log(stays * float(weight) + (1 - stays) * one.kind.share + 1e-300))
                for one, weight in zip(self.beliefs, self._weights, strict=True)
            ),
        )

    @property
    def _weights(self) -> Values:
        logs = np.array([belief.log_weight for belief in self.beliefs])
        weights = np.exp(logs - logs.max())
        return np.asarray(weights / weights.sum())

    def _mixed(self, parts: Iterable[tuple[float, float]]) -> LightEstimate:
        means, variances = np.array(list(parts)).T
        weights = self._weights
        mean = float(weights @ means)
        return LightEstimate(stops=mean, doubt_stops=sqrt(float(weights @ (variances + (means - mean) ** 2))))


def told_after(seen: Sequence[LightSeen], begun: LightState) -> tuple[LightState, list[FrameTold]]:
    """Return what is known after all frames, and what they tell of each of them: the smoother.

    The weather is weighed by all frames alike: looking back, none of what they said of it is forgotten.

    Parameters
    ----------
    seen
        Frames from the oldest to the newest.
    begun
        The state they begin from.
    """
    terms = {term.name: term for frame in seen for term in frame.terms}
    state = replace(begun._with_terms(tuple(terms.values())), weather_minutes=inf)
    states = []
    for frame in seen:
        state = state.saw(frame)
        states.append(state)
    if not states:
        return begun, []
    by_kind = [
        _smoothed([one.beliefs[at] for one in states], [frame.middle_s for frame in seen])
        for at in range(len(begun.beliefs))
    ]
    return state, [state._told_of(frame, kinds) for frame, kinds in zip(seen, zip(*by_kind, strict=True), strict=True)]


def _smoothed(beliefs: Sequence[_Belief], at_s: Sequence[float]) -> list[tuple[Values, Values]]:
    """Go back over what one kind of light believed after each frame (Rauch, Tung and Striebel 1965, eq. 3.28 ff.)."""
    mean, cov = beliefs[-1].mean, beliefs[-1].cov
    found = [(mean, cov)]
    for (before, after), (from_s, to_s) in zip(
        reversed(list(pairwise(beliefs))), reversed(list(pairwise(at_s))), strict=True
    ):
        ahead = before.at(after.at_s)
        step, _ = _step(before.kind, max(to_s - from_s, 0.0) / 60, len(before.mean))
        gain = np.linalg.solve(ahead.cov + 1e-12 * np.eye(len(mean)), step @ before.cov).T
        mean = before.mean + gain @ (mean - ahead.mean)
        cov = before.cov + gain @ (cov - ahead.cov) @ gain.T
        found.append((mean, cov))
    return found[::-1]
