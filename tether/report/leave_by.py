"""Which rungs are left out where time is short: those that must be had keep the time that they need."""

from __future__ import annotations

from collections.abc import Sequence


def left_out(takes_s: Sequence[float], must: Sequence[bool], left_s: float) -> tuple[int, ...]:
    """Return which rungs are left out, counted from 0.

    Parameters
    ----------
    takes_s
        What each rung takes [s], in the order in which they are taken; one that is left out takes no time.
    must
        Whether it must be had: no other one is begun in the time that those still to come need.
    left_s
        Time until the person wants to leave [s].
    """
    out = []
    for at, takes in enumerate(takes_s):
        if takes + kept_s(takes_s, must, at) > left_s:
            out.append(at)
        else:
            left_s -= takes
    return tuple(out)


def kept_s(takes_s: Sequence[float], must: Sequence[bool], at: int) -> float:
    """Return the time that later rungs keep from one [s]: none from one that must be had itself."""
    later = zip(takes_s[at + 1 :], must[at + 1 :], strict=True)
    return 0.0 if must[at] else sum(takes for takes, needed in later if needed)
