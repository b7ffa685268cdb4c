"""Make a rung brighter or darker than planned and keep its picture: where its time is the picture, least by time.

Up to 8 s the time is what the water looks like: at most a third of a stop of a correction is made by time, the rest by
ISO, then by aperture. From 30 s on it is made by time first, up to a stop. Between them, in proportion. What the limits
of the plan leave no way for is made as far as it can be.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from math import log2
from typing import NamedTuple

from tether.exposure.marks import Mark
from tether.exposure.stops import aperture_stops, iso_stops
from tether.plan.again import SAME_SETTING_STOPS
from tether.plan.choices import Pair, Space, can_hold, within
from tether.plan.ladder import Choice

#: Up to the first time [s] so many stops are made by time at most, from the second on so many.
PICTURE_S, LONG_S = 8.0, 30.0
BY_TIME_STOPS, LONG_BY_TIME_STOPS = 1 / 3, 1.0
#: The aperture gives no more than this [stops]: depth and the look of what is sharp are the picture too.
BY_APERTURE_STOPS = 2.0
_TINY = 1e-6


@dataclass(frozen=True, kw_only=True)
class Corrected:
    """A rung solved again; `left_stops` is how much brighter than that it should still be, rounding apart."""

    choice: Choice
    left_stops: float


class _Way(NamedTuple):
    """A way to make it, in the order in which ways are preferred."""

    left: float
    aperture: float
    untold: bool
    iso: float
    off: float
    time: float
    pair: Pair
    time_s: float
    label: str
    error: float


def by_time_at_most(time_s: float) -> float:
    """Return how much of a correction a time may give [stops]."""
    share = (log2(min(max(time_s, PICTURE_S), LONG_S) / PICTURE_S)) / log2(LONG_S / PICTURE_S)
    return BY_TIME_STOPS + share * (LONG_BY_TIME_STOPS - BY_TIME_STOPS)


def correct(
    space: Space,
    choice: Choice,
    brighter_stops: float,
    known_isos: Collection[float] = (),
    settings: tuple[Mark, Mark] | None = None,
) -> Corrected | None:
    """Return a rung made so much brighter than the base asks [stops], with the filters that are on.

    Parameters
    ----------
    space
        What it may be made of, through those filters alone.
    choice
        As it was planned; its way stays.
    brighter_stops
        How much brighter than planned, its rounding apart; negative: darker.
    known_isos
        ISO values whose steps were told by a frame: a bulb exposure, whose time can be anything, is made with these
        where they do, a timed one with the nearest.
    settings
        Aperture and ISO that it is made with; None: any.
        The aperture of a frame in a bracket stays.

    Returns
    -------
    Corrected or None
        None where the limits leave no setting at all.
    """
    if settings is not None:
        space = replace(space, pairs=tuple(pair for pair in space.pairs if (pair.aperture, pair.iso) == settings))
    found = min(_ways(space, choice, brighter_stops, known_isos), default=None, key=lambda way: way[:6])
    if found is None:
        return None
    made = replace(
        choice,
        time_s=found.time_s,
        time_label=found.label,
        aperture=found.pair.aperture,
        iso=found.pair.iso,
        error_stops=found.error,
        darker_by_stops=choice.darker_by_stops - brighter_stops,
    )
    return Corrected(choice=made, left_stops=_left(space, choice, found.error))


def _ways(space: Space, choice: Choice, brighter: float, known_isos: Collection[float]) -> Iterator[_Way]:
    """Yield the ways within what time and aperture may give."""
    most = by_time_at_most(choice.time_s)
    wider_by_most = SAME_SETTING_STOPS if choice.bracket_stops is not None else BY_APERTURE_STOPS
    times = list(_times(space, choice, most))
    base_s = space.plan.base.time.exact
    for pair in space.pairs:
        wider = abs(aperture_stops(pair.aperture.exact, choice.aperture.exact))
        if wider > wider_by_most + _TINY:
            continue
        faster = abs(iso_stops(pair.iso.exact, choice.iso.exact))
        told = choice.way != "held" or faster < SAME_SETTING_STOPS or pair.iso.exact in known_isos
        # The time that makes it exactly as bright as it should be with this aperture and ISO [s].
        needed = base_s * 2 ** (pair.stops + space.stack_stops[0] - choice.darker_by_stops + brighter)
        for time_s, label in times or [(_held_s(space, choice, needed, most), "bulb")]:
            error, moved = log2(time_s / needed), log2(time_s / choice.time_s)
            yield _Way(
                left=round(abs(_left(space, choice, error)), 3),
                aperture=round(wider, 3),
                untold=not told,
                iso=round(faster, 3),
                off=round(abs(error), 3),
                time=abs(moved),
                pair=pair,
                time_s=time_s,
                label=label,
                error=error,
            )


def _times(space: Space, choice: Choice, most: float) -> Iterator[tuple[float, str]]:
    """Yield the body's own times that are near enough to a timed rung's."""
    if choice.way == "held":
        return
    planned = log2(choice.time_s)
    reach = 0.0 if choice.way == "many" else most
    for at in within(space.time_stops, planned - reach - 0.02, planned + reach + 0.02):
        mark = space.abilities.times[at]
        yield mark.exact, mark.label


def _held_s(space: Space, choice: Choice, needed_s: float, most: float) -> float:
    """Return the time of a held rung: as needed, as far as it may go [s]."""
    longest = space.plan.limits.longest
    upper = min(choice.time_s * 2**most, space.abilities.longest_hold_s, longest.exact if longest else float("inf"))
    held = min(max(needed_s, choice.time_s / 2**most), max(upper, choice.time_s))
    return held if can_hold(space.abilities, held) else choice.time_s


def _left(space: Space, choice: Choice, error: float) -> float:
    """Return how much brighter it should still be [stops]: what a body's own times leave is no part of it."""
    if choice.way == "held":
        return 0.0 if abs(error) < _TINY else -error
    if error > space.brighter_at_most:
        return space.brighter_at_most - error
    return max(-space.darker_at_most - error, 0.0)
