"""Frames around a rung, brighter and darker, to be blended with it: the same water, so its time as far as can be."""

from __future__ import annotations

from dataclasses import replace
from math import log2

from tether.exposure.labels import time_label
from tether.exposure.marks import Mark, nearest
from tether.exposure.stops import iso_stops, time_stops
from tether.plan.choices import LONG_WATER_S, Space, allowed_isos, can_hold
from tether.plan.ladder import Choice

#: A partner that would be farther off than this is none [stops].
_FARTHEST_STOPS = 0.26


def partner(space: Space, choice: Choice, stops: float) -> Choice | None:
    """Return a choice so many stops brighter than another; None where body or limits have none.

    Filters and aperture stay. Darker is a shorter time. Brighter is a longer time where the rung is short, and a higher
    ISO where it is long; what rounding leaves stands as its error.
    """
    if choice.way == "many":
        return None
    long = choice.time_s >= LONG_WATER_S * 0.99
    made = _by_iso(space, choice, stops) if stops > 0 and long else _by_time(space, choice, stops)
    if made is None or abs(made.error_stops) > _FARTHEST_STOPS:
        return None
    return replace(
        made,
        darker_by_stops=choice.darker_by_stops - stops,
        paid=replace(choice.paid, dark_stops=max(-made.error_stops, 0.0)),
        bracket_stops=stops,
    )


def time_of(choice: Choice) -> Mark:
    """Return the time of a partner as the mark that it is asked for by."""
    label = time_label(choice.time_s) if choice.way == "held" else choice.time_label
    return Mark(label=label, exact=choice.time_s)


def _by_iso(space: Space, choice: Choice, stops: float) -> Choice:
    iso = nearest(allowed_isos(space.plan, space.abilities), choice.iso.exact * 2**stops)
    error = iso_stops(iso.exact, choice.iso.exact) - stops + choice.error_stops
    return replace(choice, iso=iso, error_stops=error, time_off_stops=0.0)


def _by_time(space: Space, choice: Choice, stops: float) -> Choice | None:
    abilities = space.abilities
    exact_s = choice.time_s * 2 ** (stops - choice.error_stops)
    if log2(exact_s / abilities.times[-1].exact) > space.plan.limits.time_off_stops:
        held = replace(choice, way="held", time_s=exact_s, time_label="bulb", error_stops=0.0)
        return held if can_hold(abilities, exact_s) else None
    mark = nearest(abilities.times, exact_s)
    error = time_stops(mark.exact, exact_s)
    return replace(choice, way="timed", time_s=mark.exact, time_label=mark.label, error_stops=error, time_off_stops=0.0)
