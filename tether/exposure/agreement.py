"""When two exposure times are the same, as far as bodies write them and as far as it matters to a picture."""

from __future__ import annotations

from tether.exposure.stops import time_stops

#: Two times agree within this [stops]: half of the finest step of a body's dial.
AGREE_STOPS = 1 / 6
#: How far a time is rounded that is written in whole seconds [s].
WHOLE_S = 1.0


def times_agree(said_s: float, expected_s: float, *, within_s: float = 0.0) -> bool:
    """Say whether two times [s] are the same: within :data:`AGREE_STOPS`, or within `within_s` seconds.

    Examples
    --------
    >>> times_agree(30.0, 32.0)
    True
    >>> times_agree(1 / 125, 0.4)
    False
    """
    if said_s <= 0 or expected_s <= 0:
        return abs(said_s - expected_s) <= within_s
    return abs(said_s - expected_s) <= within_s or abs(time_stops(said_s, expected_s)) <= AGREE_STOPS


def rounded_to_s(said_s: float, *, writes_fractions: bool) -> float:
    """Return how far the Exif time of a held frame may be rounded [s].

    Some bodies write such a time in whole seconds (from observation of files, not tried on hardware). One that has
    written a fraction of a second once does not; nor is a time rounded that is none of whole seconds.
    """
    whole = said_s >= WHOLE_S and said_s == round(said_s)
    return WHOLE_S if whole and not writes_fractions else 0.0


def believed_open_s(
    exif_s: float | None, commands_s: float | None, *, rounded_s: float, within_s: float = 0.0
) -> float | None:
    """Return the open time of a frame to believe [s].

    Our commands are exact and are believed where the Exif says nothing, or agrees with them as finely as it is
    written; else the Exif is. None where neither is known.
    """
    if commands_s is None or exif_s is None:
        return exif_s if commands_s is None else commands_s
    return commands_s if times_agree(exif_s, commands_s, within_s=max(rounded_s, within_s)) else exif_s
