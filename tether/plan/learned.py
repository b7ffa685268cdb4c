"""What earlier outings tell of how long things take: medians over what was measured in them, and said wherever used.

Only what was done on a camera counts, nothing that was rehearsed; see `docs/learning.md`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median
from typing import Literal

from tether.wording import span

What = Literal["filter change", "copying", "battery", "forecast"]
#: How a filter is touched: screwed on, slid into a holder, or taken off.
Touch = Literal["screwed", "held", "off"]
#: A median of fewer cases tells nothing (own choice).
LEAST_CASES = 3
#: Ladders that took as long as forecast within this share did so (own choice).
_AS_FORECAST = 0.03


@dataclass(frozen=True, kw_only=True)
class Case:
    """Something that was measured once.

    Attributes
    ----------
    outing
        The mark of the outing that it was measured in.
    what
        A filter change [s for each piece], copying a frame [s], battery used [share of a full one an hour], or how long
        a ladder took [times its forecast].
    of
        How a filter was touched; else the body.
    """

    outing: str
    what: What
    of: str
    value: float


@dataclass(frozen=True, kw_only=True)
class Figure:
    """The median of some cases, and from how many outings they are."""

    value: float
    outings: int

    @property
    def source(self) -> str:
        """Say where it is from: ``From 3 outings``."""
        return f"From {self.outings} outing{'' if self.outings == 1 else 's'}"


@dataclass(frozen=True, kw_only=True)
class Learned:
    """What is counted by what earlier outings tell; None: by the plan and the body file, as ever.

    Attributes
    ----------
    screwed_s, held_s, off_s
        Time for one filter to be screwed on, slid into its holder, taken off [s].
    copying_s
        Time to copy a frame [s].
    battery_per_h
        Share of a full battery that is used in an hour.
    forecast_factor
        How many times their forecast ladders took.
    """

    screwed_s: Figure | None = None
    held_s: Figure | None = None
    off_s: Figure | None = None
    copying_s: Figure | None = None
    battery_per_h: Figure | None = None
    forecast_factor: Figure | None = None


def touch_of(touch: Touch, *, cold: bool) -> str:
    """Return what cases of a touch go by: cold fingers take longer, so they are told apart."""
    return f"{touch}, cold" if cold else touch


def learned_of(cases: Iterable[Case], body: str, *, cold: bool) -> Learned:
    """Return what cases tell for a body, and for fingers that are cold or not."""
    known = tuple(cases)

    def figure(what: What, of: str) -> Figure | None:
        found = [one for one in known if (one.what, one.of) == (what, of)]
        if len(found) < LEAST_CASES:
            return None
        return Figure(value=median(one.value for one in found), outings=len({one.outing for one in found}))

    return Learned(
        screwed_s=figure("filter change", touch_of("screwed", cold=cold)),
        held_s=figure("filter change", touch_of("held", cold=cold)),
        off_s=figure("filter change", touch_of("off", cold=cold)),
        copying_s=figure("copying", body),
        battery_per_h=figure("battery", body),
        forecast_factor=figure("forecast", body),
    )


def learned_words(learned: Learned, touches: Iterable[Touch], forecast_s: float) -> tuple[str, ...]:
    """Say what is counted by earlier outings, a sentence each.

    Parameters
    ----------
    touches
        How filters are touched in the ladder whose time no plan gives: of others nothing is counted.
    forecast_s
        How long the ladder is to take [s].
    """
    used = set(touches)
    changes = (
        (learned.screwed_s if "screwed" in used else None, "to screw a filter on"),
        (learned.held_s if "held" in used else None, "to slide a filter into its holder"),
        (learned.off_s if "off" in used else None, "to take a filter off"),
        (learned.copying_s, "to copy a frame"),
    )
    told = [f"{one.source}: {_seconds(one.value)} {what}." for one, what in changes if one is not None]
    if learned.forecast_factor is not None:
        told.append(_against_forecast(learned.forecast_factor, forecast_s))
    if learned.battery_per_h is not None:
        told.append(_battery(learned.battery_per_h, forecast_s))
    return tuple(told)


def _seconds(value_s: float) -> str:
    return f"{value_s:.1f} s" if value_s < 10 else span(value_s)


def _against_forecast(factor: Figure, forecast_s: float) -> str:
    if abs(factor.value - 1) <= _AS_FORECAST:
        return f"{factor.source}: ladders took as long as forecast."
    return (
        f"{factor.source}: ladders took {factor.value:.2f} times their forecast, so this one may take"
        f" {span(factor.value * forecast_s)}."
    )


def _battery(per_h: Figure, forecast_s: float) -> str:
    return (
        f"{per_h.source}: {per_h.value:.0%} of a full battery an hour, so about"
        f" {per_h.value * forecast_s / 3600:.0%} for this ladder.".replace("%", " %")
    )
