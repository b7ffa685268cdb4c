"""What follows from what a frame says: how far off it is, and whether it had better be taken again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from typing import Literal

from tether.exposure.stops import aperture_stops, iso_stops, time_stops
from tether.frames.reading import Readings
from tether.plan.file import Base, Plan
from tether.run.correcting import SaidBefore
from tether.run.exposing import Exposed
from tether.run.shots import Shot

#: From this share on it is said that shadows are lifted.
LIFTED_SHARE = 0.05
#: Through less than this, shadows are lifted by flare rather than by light past the filter [stops].
STRONG_STOPS = 3.0


#: Water counts as burning more than before from so many times as many pixels on.
MORE_BURNT = 1.5


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """Something that a frame says and a person should hear.

    `what`: "again" where it had better be taken again as it was, "darker" where it had better be taken again darker,
    "said" where it is only said.
    """

    what: Literal["again", "darker", "said"]
    sentence: str


def expected_stops(shot: Shot, open_s: float, base: Base) -> float:
    """Return how much brighter than the base a frame's still parts should be by its settings and filters [stops]."""
    return (
        time_stops(open_s, base.time.exact)
        + aperture_stops(shot.aperture.exact, base.aperture.exact)
        + iso_stops(shot.iso.exact, base.iso.exact)
        - shot.filter_stops
    )


def with_expected(readings: Readings, shot: Shot, exposed: Exposed, base: Base) -> Readings:
    """Return readings that also say how bright the still parts should be, and how far off they are [stops]."""
    rock = readings.get("rock")
    if not rock:
        return readings
    expected = expected_stops(shot, exposed.open_s, base)
    off = rock["brighter_stops"]["G"] - expected
    return {**readings, "rock": {**rock, "expected_stops": expected, "off_stops": off}}


def verdicts(readings: Readings, shot: Shot, plan: Plan, before: SaidBefore, *, news: bool) -> list[Verdict]:
    """Return what is to be said of a frame.

    Parameters
    ----------
    readings
        As :func:`with_expected` returns them.
    before
        What frames before it said.
    news
        Whether its level is other than that of frames through the same filters before it.
    """
    found = [
        _of_level(readings.get("rock"), shot) if news else None,
        _of_leak(readings.get("rock"), shot),
        _of_water(readings.get("water"), shot, before.burnt_share),
        _of_stillness(readings.get("still"), plan, before.stands_px),
    ]
    return [one for one in found if one is not None]


def _of_level(rock: Readings | None, shot: Shot) -> Verdict | None:
    if not rock:
        return None
    off = rock["off_stops"]
    through = f" through {' + '.join(shot.filters)}" if shot.filters else ""
    brighter = f"{abs(off):.2f} stop {'brighter' if off > 0 else 'darker'}"
    likely = "the filter, or the light," if shot.filters else "the light"
    return Verdict(
        what="said", sentence=f"The rock came out {brighter} than reckoned{through}: {likely} is not as thought."
    )


def _of_leak(rock: Readings | None, shot: Shot) -> Verdict | None:
    if not rock or rock["lifted_share"] < LIFTED_SHARE or shot.filter_stops < STRONG_STOPS:
        return None
    share = f"{rock['lifted_share']:.0%}"
    return Verdict(
        what="said",
        sentence=f"All shadows are lifted by {share} of the mean level: light comes past the filter (cover the finder,"
        " look at the holder), or it flares.",
    )


def _of_water(water: Readings | None, shot: Shot, burnt_share: float) -> Verdict | None:
    """Judge the water: it is spoken of where it burns more than it ever did before."""
    if not water or water["headroom_stops"] is not None or water["clipped_share"] <= MORE_BURNT * burnt_share:
        return None
    burns = f"{water['clipped_share']:.2%} of its pixels clip in one channel"
    if shot.kind == "base":
        return Verdict(
            what="said",
            sentence=f"The water burns out in the base itself: {burns}. A darker base is found by: tether base",
        )
    return Verdict(what="darker", sentence=f"The water burns out: {burns}.")


def _of_stillness(still: Readings | None, plan: Plan, stands_px: Sequence[tuple[float, float]]) -> Verdict | None:
    if not still:
        return None
    moved_px = min(hypot(still["right_px"] - right, still["down_px"] - down) for right, down in stands_px)
    lost = still["sharpness_lost"]
    if moved_px <= plan.readings.shift_px and (lost is None or lost <= plan.readings.sharpness_lost):
        return None
    soft = f" and {lost:.0%} less sharp" if lost is not None and lost > plan.readings.sharpness_lost else ""
    return Verdict(what="again", sentence=f"The rock stands {moved_px:.1f} px off{soft}: {still['likely']}.")
