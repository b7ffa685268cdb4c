"""What frames said so far, and what is made darker while nothing has told what it is made with."""

from __future__ import annotations

from dataclasses import dataclass, field

from tether.journal.readings import FrameReadings, Stillness
from tether.plan.choices import LONG_WATER_S
from tether.plan.file import Plan
from tether.plan.ladder import Rung

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
class FrameHistory:
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

    def take_in(self, readings: FrameReadings, lost_may_be: float, *, proof: bool = False) -> None:
        """Take in what a frame says; a loss of sharpness beyond `lost_may_be` was told.

        Water that clips in a test exposure is no measure of a rung's.
        """
        if not proof and readings.water and readings.water.headroom_stops is None:
            self.burnt_share = max(self.burnt_share, readings.water.clipped_share)
        still = readings.still
        if still is not None:
            self.stood.append(still)
            lost = still.lost or 0.0
            self.lost_told = max(self.lost_told, lost) if lost > lost_may_be else self.lost_told
