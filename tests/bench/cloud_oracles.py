"""The best that anybody could foretell under the clouds of `tests.bench.equal_light`: what that is held against.

Two who know how those clouds are drawn, and so the best forecast there is: one sees the light at every moment until a
shutter opens, one sees it only through the same frames as the program, without noise, with every f-number and ISO step
known, and does not know the filters. Both by drawing many courses of the light (Gordon, Salmond and Smith 1993,
IEE Proceedings F 140, 107: the bootstrap filter).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]

#: How clouds are drawn: gaps and lengths, one after another and before the first [s], edges [s], depths [stops].
GAP_S, FIRST_GAP_S, CLOUD_S, LEAST_S = 200.0, 150.0, 120.0, 1.0
EDGE_S, DEPTH_STOPS = (8.0, 45.0), (0.1, 1.0)
#: A filter is off by no more than so much, evenly drawn [stops].
GLASS_STOPS = 0.4
#: Courses that are drawn, and how finely each is followed while a shutter is open [s].
COURSES, STEP_S = 8000, 1.0
#: How near a course has to come to a frame [stops], and how many must be left; else it is taken less strictly.
_NEAR_STOPS, _LEFT = 0.012, 150
#: Clear, on into a cloud, under it, out of it: one after another.
_CLEAR, _INTO, _COVERED, _OUT = range(4)


class Frame(NamedTuple):
    """A frame: when it opened and for how long [s], its filters, the light over it and what they are off by [stops]."""

    opened_s: float
    open_s: float
    filters: frozenset[str]
    light_stops: float
    glass_stops: float


@dataclass
class Skies:
    """Many courses of the light at one moment, each going from one level to another until its phase ends."""

    rng: np.random.Generator
    phase: NDArray[np.int64]
    since_s: Values
    level: Values
    until_s: Values
    then: Values
    glass: dict[str, Values] = field(default_factory=dict)

    @classmethod
    def at_first(cls, rng: np.random.Generator, count: int) -> Skies:
        """Begin under a clear sky."""
        zeros = (np.zeros(count) for _ in range(3))
        since, level, then = zeros
        return cls(rng, np.zeros(count, dtype=np.int64), since, level, rng.exponential(FIRST_GAP_S, count), then)

    @classmethod
    def seen_until(
        cls, rng: np.random.Generator, count: int, course: Sequence[tuple[float, float]], at_s: float
    ) -> Skies:
        """Begin at a moment [s] of a course that was seen until then, as `tests.bench.equal_light` draws it."""
        place = max(index for index, (from_s, _) in enumerate(course[:-1]) if from_s <= at_s)
        (from_s, level), (to_s, then) = course[place : place + 2]
        phase, gone_s = place % 4, at_s - from_s
        still_s = max(LEAST_S - gone_s, 0.0)
        until, to = np.full(count, to_s), np.full(count, then)
        if phase == _CLEAR:
            until = at_s + rng.exponential(GAP_S if place else FIRST_GAP_S, count) + (still_s if place else 0.0)
        elif phase == _COVERED:
            until = at_s + rng.exponential(CLOUD_S, count) + still_s
        elif phase == _INTO:  # how steep it is shows; how long it takes, and so how deep it is, does not
            steep = (level - then) / (to_s - from_s)
            least = max(EDGE_S[0], gone_s, DEPTH_STOPS[0] / steep)
            most = max(min(EDGE_S[1], DEPTH_STOPS[1] / steep), least)
            lasts = np.sqrt(rng.uniform(least**2, most**2, count))
            until, to = from_s + lasts, level - steep * lasts
        return cls(rng, np.full(count, phase), np.full(count, from_s), np.full(count, level), until, to)

    def _go_on(self, at_s: float) -> None:
        """Let phases end that end before a moment [s]."""
        while (over := self.until_s <= at_s).any():
            count, rng = int(over.sum()), self.rng
            phase = (self.phase[over] + 1) % 4
            lasts = (
                rng.exponential(GAP_S, count) + LEAST_S,
                rng.uniform(*EDGE_S, count),
                rng.exponential(CLOUD_S, count) + LEAST_S,
                rng.uniform(*EDGE_S, count),
            )
            zero, begun = np.zeros(count), self.then[over]
            to = (zero, -rng.uniform(*DEPTH_STOPS, count), begun, zero)
            since = self.until_s[over]
            self.phase[over], self.since_s[over], self.level[over] = phase, since, begun
            self.then[over], self.until_s[over] = np.choose(phase, to), since + np.choose(phase, lasts)

    def mean(self, opened_s: float, open_s: float) -> Values:
        """Return each course's mean over an opening [stops], and go on to its end."""
        count = max(int(np.ceil(open_s / STEP_S)), 1)
        gathered = np.zeros(len(self.phase))
        for at_s in opened_s + (np.arange(count) + 0.5) / count * open_s:
            self._go_on(float(at_s))
            gone = (at_s - self.since_s) / np.maximum(self.until_s - self.since_s, 1e-9)
            gathered += np.exp2(self.level + (self.then - self.level) * gone)
        return np.asarray(np.log2(gathered / count))

    def keep(self, weights: Values) -> None:
        """Draw courses anew, each as often as it is likely; covered skies and glass are moved a little apart."""
        count = len(weights)
        places = (np.arange(count) + self.rng.uniform()) / count
        drawn = np.minimum(np.searchsorted(np.cumsum(weights) / weights.sum(), places), count - 1)
        for name in ("phase", "since_s", "level", "until_s", "then"):
            setattr(self, name, getattr(self, name)[drawn])
        self.glass = {name: each[drawn] for name, each in self.glass.items()}
        apart = self.rng.normal(0, _NEAR_STOPS / 3, count) * (self.phase == _COVERED)
        self.level, self.then = self.level + apart, self.then + apart


def by_sight(course: Sequence[tuple[float, float]], opened_s: float, open_s: float, seed: int) -> float:
    """Return what one who saw the course until a shutter opens foretells of its mean over the opening [stops]."""
    rng = np.random.default_rng([seed, 75])
    return float(Skies.seen_until(rng, COURSES // 4, course, opened_s).mean(opened_s, open_s).mean())


def by_frames(frames: Sequence[Frame], seed: int) -> list[float]:
    """Return what one who sees the frames foretells of each before it opens [stops]."""
    skies = Skies.at_first(np.random.default_rng([seed, 74]), COURSES)
    found = []
    for frame in frames:
        mean = skies.mean(frame.opened_s, frame.open_s)
        new = [name for name in frame.filters if name not in skies.glass]
        glass = sum((skies.glass[name] for name in frame.filters if name not in new), np.zeros(COURSES))
        found.append(float((mean + glass).mean()))
        missed = frame.light_stops + frame.glass_stops - mean - glass
        if len(new) == 1:  # the frame says what the filter is, in each course
            skies.glass[new[0]] = missed
            skies.keep((np.abs(missed) <= GLASS_STOPS).astype(float))
            continue
        skies.keep(_likely(missed))
    return found


def _likely(missed: Values) -> Values:
    """Return how likely each course is by how far off a frame it is, less strictly where few come near."""
    near = _NEAR_STOPS
    while True:
        weights = np.exp(-(missed**2) / (2 * near**2))
        if weights.sum() ** 2 > _LEFT * (weights**2).sum():
            return np.asarray(weights)
        near *= 1.5
