"""What frames said so far, and by how much what is still to come is corrected for it, bounded by the plan."""

from __future__ import annotations

from dataclasses import dataclass, field

from tether.journal.readings import FrameReadings, Stillness
from tether.plan.choices import LONG_WATER_S
from tether.plan.file import Plan
from tether.plan.ladder import Rung

#: Less than this is not worth another setting [stops].
LEAST_STOPS = 0.04
#: From this much on it is said that frames are brighter or darker than reckoned, or than they were [stops].
NEWS_STOPS = 1 / 6


@dataclass(frozen=True, kw_only=True)
class Off:
    """How much brighter than reckoned a frame through some filters came out [stops], and which frame it was."""

    stops: float
    frame: int


@dataclass
class Corrections:
    """What is known of each stack of filters (by their names), from the latest frame through it.

    `sure` says whether the regions that it was read from were confirmed or given; else nothing is corrected.
    """

    sure: bool = False
    _off: dict[tuple[str, ...], Off] = field(default_factory=dict)
    _told: dict[tuple[str, ...], float] = field(default_factory=dict)

    def note(self, filters: tuple[str, ...], off: Off) -> bool:
        """Take in how far off a frame was; say whether that is news: far from 0, and from what was told before."""
        self._off[filters] = off
        news = abs(off.stops - self._told.get(filters, 0.0)) >= NEWS_STOPS
        if news:
            self._told[filters] = off.stops
        return news

    def saw(self, rung: Rung) -> bool:
        """Say whether a frame through a rung's filters was read by regions that count."""
        return self.sure and tuple(one.name for one in rung.fitted) in self._off

    def of(self, plan: Plan, rung: Rung) -> tuple[float, Off] | None:
        """Return how much brighter a rung is to be made than planned [stops], and what by; None: as planned."""
        off = self._off.get(tuple(one.name for one in rung.fitted))
        if off is None or not self.sure or plan.readings.correct == "say":
            return None
        most = plan.readings.correct_at_most_stops
        brighter = min(max(-off.stops, -most), most)
        return (brighter, off) if abs(brighter) >= LEAST_STOPS else None


#: A long exposure that opens through something unmeasured is made so much darker [stops] (common practice, no source).
UNMEASURED_STOPS = 1 / 3


def unsure_stops(plan: Plan, rung: Rung, *, seen: bool) -> float:
    """Return by how much a rung is darkened because what it is made with is not measured, now that it opens [stops].

    Parameters
    ----------
    seen
        Whether a frame through the same filters was read, so that what they take is known.
    """
    if plan.top.darker_by != "what is unmeasured" or rung.choice.time_s < LONG_WATER_S * 0.99 or seen:
        return 0.0
    base = 0.0 if plan.base.measured else plan.base.uncertainty_stops
    return max(base, 0.0 if all(one.measured for one in rung.choice.stack) else UNMEASURED_STOPS)


@dataclass
class SaidBefore:
    """What the frames of a ladder said so far.

    Attributes
    ----------
    stood
        Where the still parts stood: a tripod that was knocked stays where it is, and is spoken of once.
    lost_told
        The share of sharpness whose loss was told.
    burnt_share
        The largest share of the water that clipped.
    """

    stood: list[Stillness] = field(default_factory=list)
    lost_told: float = 0.0
    burnt_share: float = 0.0

    def take_in(self, readings: FrameReadings, lost_may_be: float) -> None:
        """Take in what a frame says; a loss of sharpness beyond `lost_may_be` was told."""
        if readings.water and readings.water.headroom_stops is None:
            self.burnt_share = max(self.burnt_share, readings.water.clipped_share)
        still = readings.still
        if still is not None:
            self.stood.append(still)
            lost = still.lost or 0.0
            self.lost_told = max(self.lost_told, lost) if lost > lost_may_be else self.lost_told
