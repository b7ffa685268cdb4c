"""Correcting what is still to come by what frames showed: how far off a stack of filters was, bounded by the plan."""

from __future__ import annotations

from dataclasses import dataclass, field

from tether.plan.file import Plan
from tether.plan.ladder import Rung

#: Less than this is not worth another setting [stops].
LEAST_STOPS = 0.04


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

    def note(self, filters: tuple[str, ...], off: Off) -> None:
        """Take in how far off a frame was."""
        self._off[filters] = off

    def of(self, plan: Plan, rung: Rung) -> tuple[float, Off] | None:
        """Return how much brighter a rung is to be made than planned [stops], and what by; None: as planned."""
        off = self._off.get(tuple(one.name for one in rung.fitted))
        if off is None or not self.sure or plan.readings.correct == "say":
            return None
        most = plan.readings.correct_at_most_stops
        wanted = -off.stops + spared_stops(plan, rung)
        brighter = min(max(wanted, -most), most)
        return (brighter, off) if abs(brighter) >= LEAST_STOPS else None


def spared_stops(plan: Plan, rung: Rung) -> float:
    """Return by how much a rung was darkened only because its filters are not measured [stops].

    Once a frame has shown what they take, that is not needed any more; what the base itself is unsure of stays.
    """
    if plan.top.darker_by != "what is unmeasured":
        return 0.0
    base = 0.0 if plan.base.measured else plan.base.uncertainty_stops
    return max(rung.choice.darker_by_stops - base, 0.0)
