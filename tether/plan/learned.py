"""What earlier outings tell of how long things take: medians over what was measured in them, and said wherever used.

Only what was done on a camera counts, nothing that was rehearsed; see `docs/learning.md`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
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
_TOUCHES = {
    "screwed": "to screw a filter on",
    "held": "to slide a filter into its holder",
    "off": "to take a filter off",
}
_COPYING, _BATTERY = "to copy a frame", "of a full battery an hour"


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
        How a filter was touched (`touch_of`), a ladder by what its forecast counted (`forecast_of`); else the body.
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


def forecast_of(body: str, *, as_learned: bool) -> str:
    """Return what ladders go by that are held against their forecast.

    A forecast that counted what was learned is another one: how far those before it were off tells nothing of it.
    """
    return f"{body}, as learned" if as_learned else body


def figures(cases: Iterable[Case]) -> dict[tuple[What, str], Figure]:
    """Return what cases tell, by what and of what, wherever there are enough of them."""
    found: dict[tuple[What, str], list[Case]] = {}
    for one in cases:
        found.setdefault((one.what, one.of), []).append(one)
    return {
        key: Figure(value=median(one.value for one in alike), outings=len({one.outing for one in alike}))
        for key, alike in sorted(found.items())
        if len(alike) >= LEAST_CASES
    }


def learned_of(cases: Iterable[Case], body: str, *, cold: bool) -> Learned:
    """Return what cases tell for a body, and for fingers that are cold or not."""
    known = figures(cases)
    learned = Learned(
        screwed_s=known.get(("filter change", touch_of("screwed", cold=cold))),
        held_s=known.get(("filter change", touch_of("held", cold=cold))),
        off_s=known.get(("filter change", touch_of("off", cold=cold))),
        copying_s=known.get(("copying", body)),
        battery_per_h=known.get(("battery", body)),
    )
    of = forecast_of(body, as_learned=learned != Learned())
    return replace(learned, forecast_factor=known.get(("forecast", of)))


def figure_words(what: What, of: str, figure: Figure) -> str:
    """Say what a figure tells, of all that is known: a sentence without what it would come to for a ladder."""
    touch, _, cold = of.partition(", ")
    told = {
        "filter change": f"{_seconds(figure.value)} {_TOUCHES.get(touch, touch)}{', in the cold' if cold else ''}",
        "copying": f"{_seconds(figure.value)} {_COPYING}, {of}",
        "battery": f"{_share(figure.value)} {_BATTERY}, {of}",
        "forecast": f"ladders took {figure.value:.2f} times their forecast, {of}",
    }
    return f"{figure.source}: {told[what]}."


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
        (learned.screwed_s if "screwed" in used else None, _TOUCHES["screwed"]),
        (learned.held_s if "held" in used else None, _TOUCHES["held"]),
        (learned.off_s if "off" in used else None, _TOUCHES["off"]),
        (learned.copying_s, _COPYING),
    )
    told = [f"{one.source}: {_seconds(one.value)} {what}." for one, what in changes if one is not None]
    if learned.forecast_factor is not None:
        told.append(_against_forecast(learned.forecast_factor, forecast_s))
    if (per_h := learned.battery_per_h) is not None:
        spent = _share(per_h.value * forecast_s / 3600)
        told.append(f"{per_h.source}: {_share(per_h.value)} {_BATTERY}, so about {spent} for this ladder.")
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


def _share(value: float) -> str:
    return f"{value:.0%}".replace("%", " %")
