"""What was measured by light, for people and as JSON data."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from tether.exposure.labels import with_unit
from tether.frames.mosaic import CHANNELS
from tether.frames.opening import ShutterTiming
from tether.frames.strength import Strength
from tether.frames.wandering import Interval

STRENGTH_SCHEMA, OPENING_SCHEMA = "tether-strength/1", "tether-opening/1"
_NAMES = {"R": "red", "G": "green", "B": "blue"}


def plus_minus(one: Interval, digits: int = 2) -> str:
    """Write a value with half its interval; what is smaller than the last digit is written as one of it."""
    half_width = max(one.half_width, 10.0**-digits)
    return f"{one.value:.{digits}f} ± {half_width:.{digits}f}"


def strength_lines(name: str, found: Strength, warnings: Sequence[str]) -> tuple[str, ...]:
    """Return what a filter takes, its cast, and how the light was, a line each."""
    cast = ", ".join(f"{_NAMES[channel]} {one.value:+.3f}" for channel, one in found.cast_stops.items())
    by_channel = ", ".join(f"{_NAMES[channel]} {plus_minus(found.stops[channel])}" for channel in CHANNELS)
    return (
        f"{name}: {plus_minus(found.stops['G'])} stop (95 %)",
        f"  by channel: {by_channel}; beyond green: {cast}",
        f"  the light: {found.light_per_minute:+.2f} stop/min, and it wandered by {found.wander_stops:.3f} stop beside",
        *(f"  ! {warning}" for warning in warnings),
    )


def measured_json(filters: Sequence[dict[str, Any]], beyond: Interval | None, day: date, *, simulated: bool) -> Any:
    """Return what filters were measured to take as JSON data, valid by ``strength.schema.json``.

    `filters` are as :func:`strength_json` gives them; `beyond` is what a stack takes beyond their sum.
    """
    return {
        "schema": STRENGTH_SCHEMA,
        "simulated": simulated,
        "measured_on": str(day),
        "filters": list(filters),
        "beyond_sum_stops": None if beyond is None else vars(beyond),
    }


def strength_json(name: str, found: Strength, warnings: Sequence[str], *, stored: bool) -> dict[str, Any]:
    """Return the same as JSON data; `half_width` is half the 95 % interval, `stored` whether later plans use it."""
    return {
        "name": name,
        "stops": {channel: vars(one) for channel, one in found.stops.items()},
        "cast_stops": {channel: vars(one) for channel, one in found.cast_stops.items()},
        "light_stops_per_minute": found.light_per_minute,
        "wander_stops": found.wander_stops,
        "leak_stops": None if found.leak_stops is None else vars(found.leak_stops),
        "moved": found.moved,
        "cells": found.cells,
        "warnings": list(warnings),
        "stored": stored,
    }


def excess_line(one: Interval) -> str:
    """Say what a stack takes beyond the sum of its parts."""
    verdict = "more or less than" if one.significant else "as much as"
    return f"Together they take {verdict} their sum: {one.value:+.3f} ± {one.half_width:.3f} stop."


def opening_lines(found: ShutterTiming, flickers: bool | None, *, simulated: bool) -> tuple[str, ...]:
    """Return what was found of the shutter, a line each."""
    delay = Interval(value=1000 * abs(found.delay_s.value), half_width=1000 * found.delay_s.half_width)
    way = "longer" if found.delay_s.value > 0 else "shorter"
    lamp = {True: ", IT FLICKERS", False: ", it does not flicker", None: ""}[flickers]
    return (
        *(["SIMULATED: nothing here says anything about a body that can be bought."] if simulated else []),
        f"Bulb exposures are open {plus_minus(delay, 1)} ms {way} than between the commands (95 %)",
        f"  a single one is off by {1000 * found.spread_s:.1f} ms from that (standard deviation)",
        *(
            f"{with_unit(one.label)} is not {one.says_s:.4g} s: it gives {plus_minus(one.gives_s, 3)} s."
            for one in found.lying
        ),
        f"  {len(found.each_s)} bulb exposures; the lamp: {found.lamp_per_minute:+.3f} stop/min{lamp}",
    )


def opening_json(found: ShutterTiming, flickers: bool | None, *, body_file: str, simulated: bool) -> dict[str, Any]:
    """Return the same as JSON data, valid by ``opening.schema.json``; `body_file` is the one that it went into."""
    return {
        "schema": OPENING_SCHEMA,
        "simulated": simulated,
        "body_file": body_file,
        "delay_s": vars(found.delay_s),
        "spread_s": found.spread_s,
        "holds": [{"between_commands_s": held_s, "delay_s": delay_s} for held_s, delay_s in found.each_s],
        "lying": [{"label": one.label, "says_s": one.says_s, "gives_s": vars(one.gives_s)} for one in found.lying],
        "lamp_stops_per_minute": found.lamp_per_minute,
        "lamp_flickers": flickers,
    }
