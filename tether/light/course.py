"""Light that takes any course while the shutter is open: given at some moments, and between them as it falls or rises.

Between two moments it changes by the same number of stops each minute, so each piece is one of
:mod:`tether.light.falling`, and the light gathered is the sum of exact integrals. One moment with a rate after it is
steady light (0) or light that falls for ever; many moments are a table.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import exp2, inf

from tether.light.falling import gathered_s, open_for


@dataclass(frozen=True, kw_only=True)
class Course:
    """A course of the light.

    Attributes
    ----------
    points
        Moments [s], each later than the one before, and the light then [stops against a light of one's choice].
    then_stops_per_minute
        How it falls after the last one [stops/min]; negative where it rises; None: not known.
    """

    points: tuple[tuple[float, float], ...]
    then_stops_per_minute: float | None = None

    def stops_at(self, at_s: float) -> float | None:
        """Return the light at a moment [stops]; None where it is not known."""
        piece = next(self._pieces(at_s), None)
        return None if piece is None else piece[1]

    def gathered_s(self, opens_at_s: float, open_s: float) -> float | None:
        """Return the light gathered while open, in seconds of the light of 0 stops; None where it is not known."""
        gathered = 0.0
        for length_s, stops, rate in self._pieces(opens_at_s):
            gathered += exp2(stops) * gathered_s(min(length_s, open_s), rate)
            open_s -= length_s
            if open_s <= 0:
                return gathered
        return None

    def open_for(self, gathered: float, opens_at_s: float) -> float | None:
        """Return how long to stay open [s] to gather what so many seconds of the light of 0 stops would.

        Parameters
        ----------
        gathered
            Seconds of the light of 0 stops [s], not negative.
        opens_at_s
            When the shutter opens [s].

        Returns
        -------
        float or None
            None where no time is long enough, as far as the light is known.
        """
        passed_s = 0.0
        for length_s, stops, rate in self._pieces(opens_at_s):
            needed_s = open_for(max(gathered, 0.0) / exp2(stops), rate)
            if needed_s is not None and needed_s <= length_s:
                return passed_s + needed_s
            if length_s == inf:
                return None
            gathered -= exp2(stops) * gathered_s(length_s, rate)
            passed_s += length_s
        return None

    def _pieces(self, from_s: float) -> Iterator[tuple[float, float, float]]:
        """Yield how long each piece lasts [s], its first light [stops], and its rate of fall [stops/min]."""
        if from_s < self.points[0][0]:
            return
        for (at_s, stops), (to_s, after) in pairwise(self.points):
            if to_s > from_s:
                rate, begins_s = (stops - after) * 60 / (to_s - at_s), max(at_s, from_s)
                yield to_s - begins_s, stops - rate * (begins_s - at_s) / 60, rate
        if self.then_stops_per_minute is not None:
            (at_s, stops), rate = self.points[-1], self.then_stops_per_minute
            begins_s = max(at_s, from_s)
            yield inf, stops - rate * (begins_s - at_s) / 60, rate
