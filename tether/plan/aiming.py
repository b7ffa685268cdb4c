"""Solve a rung for the light and the glass of its moment: settings, and then the time and the light over it."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

from tether.exposure.marks import Mark
from tether.exposure.stops import time_stops
from tether.plan.choices import Space
from tether.plan.correcting import Corrected, correct
from tether.plan.ladder import Choice

#: Settings, and then the time and the light that falls over it, depend on one another; so many rounds settle them.
_ROUNDS, _ROUNDS_OF_TIME = 4, 16


@dataclass(frozen=True, kw_only=True)
class Aim:
    """How a rung is made.

    `followed_stops` is how much brighter than planned it is meant to be for light and glass, `left_stops` how much
    brighter still it should be where the limits leave no more.
    """

    choice: Choice
    followed_stops: float
    left_stops: float


@dataclass(frozen=True, kw_only=True)
class Aiming:
    """A rung, and what it is to be solved for.

    Attributes
    ----------
    space
        What it may be made of, through its filters.
    choice
        As planned.
    wanted_stops
        How much brighter than planned it should be for light and glass, made in some way [stops].
    at_most_stops
        How much of that may be made [stops].
    steered_stops
        How much brighter than planned it is wanted beside that [stops].
    known_isos
        See :func:`tether.plan.correcting.correct`.
    """

    space: Space
    choice: Choice
    wanted_stops: Callable[[Choice], float]
    at_most_stops: float
    steered_stops: float = 0.0
    known_isos: Collection[float] = ()

    def aim(self) -> Aim:
        """Return how it is made; as planned where the limits leave no setting at all."""
        tried: dict[tuple[Mark, Mark], Aim] = {}
        choice = self.choice
        for _ in range(_ROUNDS):
            solved = self._solved(self._allowed(self.wanted_stops(choice)) + self.steered_stops)
            if solved is None:
                break
            choice = solved.choice
            settings = (choice.aperture, choice.iso)
            if settings in tried:
                break
            tried[settings] = self._settled(choice)
        if not tried:
            followed = self.wanted_stops(self.choice)
            return Aim(choice=self.choice, followed_stops=followed, left_stops=followed + self.steered_stops)
        return min(tried.values(), key=lambda found: round(abs(found.left_stops), 1))

    def _settled(self, choice: Choice) -> Aim:
        """Return how it is made with an aperture and an ISO: its time and the light over it depend on one another."""
        settings = (choice.aperture, choice.iso)
        wanted = followed = left = 0.0
        for _ in range(_ROUNDS_OF_TIME):
            wanted = self.wanted_stops(choice)
            followed = self._allowed(wanted)
            solved = self._solved(followed + self.steered_stops, settings)
            if solved is None:
                break
            settled = abs(time_stops(solved.choice.time_s, choice.time_s)) < 1e-4
            choice, left = solved.choice, solved.left_stops
            if settled:
                break
        return Aim(choice=choice, followed_stops=followed, left_stops=left + wanted - followed)

    def _allowed(self, stops: float) -> float:
        """Return as much of a correction as plan and person allow [stops]."""
        return min(max(stops, -self.at_most_stops), self.at_most_stops)

    def _solved(self, brighter_stops: float, settings: tuple[Mark, Mark] | None = None) -> Corrected | None:
        if not brighter_stops and settings in (None, (self.choice.aperture, self.choice.iso)):
            return Corrected(choice=self.choice, left_stops=0.0)
        return correct(self.space, self.choice, brighter_stops, self.known_isos, settings)
