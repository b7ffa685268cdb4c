"""What follows from what a frame says, and frames before it: how far off it is, whether it is better taken again."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

from tether.exposure.optics import streak_px
from tether.exposure.stops import aperture_stops, iso_stops, time_stops
from tether.frames.verdict import moved_px, verdict
from tether.journal.readings import FrameReadings, LevelsSaid, RockSaid, Standing, Stillness
from tether.plan.file import Base, Plan
from tether.shot.made import Made
from tether.shot.shot import Shot

#: From this share on it is said that shadows are lifted.
LIFTED_SHARE = 0.05
#: Through less than this, shadows are lifted by flare rather than by light past the filter [stops].
STRONG_STOPS = 3.0
#: Water counts as burning more than before from so many times as many pixels on.
MORE_BURNT = 1.5


@dataclass(frozen=True, kw_only=True)
class FollowUp:
    """Something that a frame says and a person should hear.

    `what`: "again" where it had better be taken again as it was, "darker" where it had better be taken again darker,
    "said" where it is only said.
    """

    what: Literal["again", "darker", "said"]
    sentence: str


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


def expected_stops(made: Made, base: Base) -> float | None:
    """Return how much brighter than the base a frame's still parts should be by its settings and filters [stops].

    None where a setting is not known.
    """
    aperture, iso = made.asked.aperture, made.asked.iso
    if aperture is None or iso is None:
        return None
    return (
        time_stops(made.open_s, base.time.exact)
        + aperture_stops(aperture, base.aperture.exact)
        + iso_stops(iso, base.iso.exact)
        - made.filter_stops
    )


def with_expected(readings: FrameReadings, made: Made, plan: Plan, pitch_um: float) -> FrameReadings:
    """Return readings that also say what they should be.

    These are how bright the still parts should be, and how far off they are [stops]; and how long a streak the plan's
    water should draw [px].
    """
    rock, expected = readings.rock, expected_stops(made, plan.base)
    if rock is not None and expected is not None:
        off = rock.brighter_stops["G"] - expected
        readings = replace(readings, rock=replace(rock, expected_stops=expected, off_stops=off))
    streak, water = readings.streak, plan.water
    if streak is not None and water is not None:
        predicted = streak_px(
            water.speed_m_s, made.open_s, focal_mm=plan.lens.focal_mm, distance_m=water.distance_m, pitch_um=pitch_um
        )
        readings = replace(readings, streak=replace(streak, predicted_px=predicted))
    return readings


def follow_ups(readings: FrameReadings, shot: Made | Shot, plan: Plan, before: FrameHistory) -> list[FollowUp]:
    """Return what is to be said of a frame.

    Parameters
    ----------
    readings
        As :func:`with_expected` returns them.
    before
        What frames before it said.
    """
    found = [
        _of_leak(readings.rock, shot),
        _of_water(readings.water, shot, before.burnt_share),
        _of_stillness(readings.still, plan, before),
    ]
    return [one for one in found if one is not None]


def _of_leak(rock: RockSaid | None, shot: Made | Shot) -> FollowUp | None:
    if rock is None or rock.lifted_share < LIFTED_SHARE or shot.filter_stops < STRONG_STOPS:
        return None
    share = f"{rock.lifted_share:.0%}"
    return FollowUp(
        what="said",
        sentence=f"All shadows are lifted by {share} of the mean level: light comes past the filter (cover the"
        " viewfinder, look at the holder), or it flares.",
    )


def _of_water(water: LevelsSaid | None, shot: Made | Shot, burnt_share: float) -> FollowUp | None:
    """Judge the water: it is spoken of where it burns more than it ever did before."""
    if water is None or water.headroom_stops is not None or water.clipped_share <= MORE_BURNT * burnt_share:
        return None
    burns = f"{water.clipped_share:.2%} of its pixels clip in one channel"
    if shot.kind == "base":
        return FollowUp(
            what="said",
            sentence=f"The water is clipped in the base itself: {burns}. A darker base is found by: tether base",
        )
    return FollowUp(what="darker", sentence=f"The water is clipped: {burns}.")


def _of_stillness(found: Standing | None, plan: Plan, before: FrameHistory) -> FollowUp | None:
    """Judge where the still parts stand: what moved once and stays so, or went soft and stays so, is told once."""
    if found is None:
        return None
    last = min((None, *before.stood), key=lambda one: moved_px(found, one))
    proposed = verdict(
        found,
        before=last,
        expected=found.expected,
        moved_may_be_px=plan.readings.shift_px,
        lost_may_be=plan.readings.sharpness_lost + before.lost_told,
    )
    return None if proposed is None else FollowUp(what="again", sentence=proposed.sentence)
