"""Light that falls while the shutter is open.

The light is taken to change by the same number of stops each minute: E(t) = E0 exp(-k t) with k = r ln 2 / 60. Rates
are in stops per minute, positive for falling light, negative for rising. Amounts of light are *equivalent seconds*: how
long the light of the opening moment, had it stayed, would have taken to give as much. Derivation our own.
"""

from __future__ import annotations

import math


def brightness_after(seconds: float, stops_per_minute: float) -> float:
    """Return the light after so many seconds, as a factor of what it was: 2^(-r s / 60)."""
    return math.exp2(-stops_per_minute * seconds / 60)


def gathered_s(open_s: float, stops_per_minute: float) -> float:
    """Return the light gathered while open, in seconds of the opening light: (1 - exp(-k T)) / k.

    Parameters
    ----------
    open_s
        Time open [s], not negative.
    stops_per_minute
        Rate of fall [stops/min]; negative where the light rises. Rate times minutes within ±1000 stops.
    """
    decay = _decay_per_s(stops_per_minute) * open_s
    return open_s if decay == 0 else open_s * (-math.expm1(-decay) / decay)


def open_for(gathered: float, stops_per_minute: float) -> float | None:
    """Return how long to stay open [s] to gather what `gathered` seconds of the opening light would: -ln(1 - t0 k) / k.

    Parameters
    ----------
    gathered
        Equivalent seconds of the opening light [s], not negative.
    stops_per_minute
        Rate of fall [stops/min]; negative where the light rises.

    Returns
    -------
    float or None
        None where no time is long enough: all the light still to come is worth 1 / k seconds of the opening light.
    """
    decay = _decay_per_s(stops_per_minute) * gathered
    if decay >= 1:
        return None
    return gathered if decay == 0 else gathered * (-math.log1p(-decay) / decay)


def _decay_per_s(stops_per_minute: float) -> float:
    return stops_per_minute * math.log(2) / 60
