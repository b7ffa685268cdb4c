"""Marks: the nominal labels people and bodies use, and the exact values they stand for.

A mark is the rounded name of a step: "1/125" stands for 2^-7 s = 1/128 s, "f/11" for 2^(7/2). The steps are those of
Exif 2.2 Annex C (times 2^-Tv, f-numbers 2^(Av/2)) and of the ISO 12232 speed table (100 · 2^(k/3)); the rounded names
are what cameras engrave and show.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cache

#: About how many labels are named of a long list.
_NAMED = 6


@dataclass(frozen=True, kw_only=True)
class Mark:
    """One value of a scale.

    Attributes
    ----------
    label
        What people read and bodies are sent, for example ``1/125``, ``f/11``, ``100``.
    exact
        The value it stands for: seconds, f-number or ISO.
    """

    label: str
    exact: float


class Step(Enum):
    """How finely a scale is divided."""

    FULL = "full"
    HALF = "half"
    THIRD = "third"

    @property
    def per_stop(self) -> int:
        """How many steps make one stop: 1, 2 or 3."""
        return {Step.FULL: 1, Step.HALF: 2, Step.THIRD: 3}[self]


# Each list starts at the power of two named above it and rises by one step a label.
_FASTEST_LOG2, _SLOWEST_LOG2 = -15, 13  # 1/32768 s, 8192 s
_TIMES_THIRD = """
    1/32000 1/25000 1/20000  1/16000 1/12500 1/10000  1/8000 1/6400 1/5000  1/4000 1/3200 1/2500
    1/2000 1/1600 1/1250  1/1000 1/800 1/640  1/500 1/400 1/320  1/250 1/200 1/160  1/125 1/100 1/80
    1/60 1/50 1/40  1/30 1/25 1/20  1/15 1/13 1/10  1/8 1/6 1/5  1/4 0.3 0.4  0.5 0.6 0.8
    1 1.3 1.6  2 2.5 3.2  4 5 6  8 10 13  15 20 25  30
"""
_TIMES_HALF = """
    1/32000 1/24000  1/16000 1/12000  1/8000 1/6000  1/4000 1/3000  1/2000 1/1500  1/1000 1/750
    1/500 1/350  1/250 1/180  1/125 1/90  1/60 1/45  1/30 1/20  1/15 1/10  1/8 1/6  1/4 0.3
    0.5 0.7  1 1.5  2 3  4 6  8 10  15 20  30
"""

_WIDEST_AV = 0  # f/1.0
_APERTURES_THIRD = """
    1.0 1.1 1.2  1.4 1.6 1.8  2 2.2 2.5  2.8 3.2 3.5  4 4.5 5.0  5.6 6.3 7.1  8 9 10
    11 13 14  16 18 20  22 25 29  32 36 40  45 51 57  64
"""
_APERTURES_HALF = """
    1.0 1.2  1.4 1.7  2 2.4  2.8 3.3  4 4.8  5.6 6.7  8 9.5  11 13  16 19  22 27  32 38  45 54  64
"""

_LOWEST_ISO_LOG2 = -2  # 25, counted from 100
_ISOS_THIRD = """
    25 32 40  50 64 80  100 125 160  200 250 320  400 500 640  800 1000 1250  1600 2000 2500
    3200 4000 5000  6400 8000 10000  12800 16000 20000  25600 32000 40000  51200 64000 80000
    102400 128000 160000  204800 256000 320000  409600
"""
# From memory; from 18000 up doubled from the mark a stop below.
_ISOS_HALF = """
    25 35  50 70  100 140  200 280  400 560  800 1100  1600 2200  3200 4500  6400 9000  12800 18000
    25600 36000  51200 72000  102400 144000  204800 288000  409600
"""


@cache
def time_marks(step: Step) -> tuple[Mark, ...]:
    """Return the exposure-time marks of a scale, ascending, from 1/32000 s to 8192 s (2 h 16 min 32 s).

    Up to 30 s the labels are those of cameras. Past 30 s no published marks exist: the steps go on (40.3, 50.8,
    64 s …) and the labels are the literal time, rounded to whole seconds (``40``, ``51``, ``1:04`` … ``1:08:16``).

    Notes
    -----
    Exif 2.2 Annex C for the exact values. Labels faster than 1/8000 s are common practice, no source.
    """
    labels = _labels(step, _TIMES_THIRD, _TIMES_HALF)
    exact = [_two_to(_FASTEST_LOG2, i, step) for i in range((_SLOWEST_LOG2 - _FASTEST_LOG2) * step.per_stop + 1)]
    labels += [clock_label(seconds) for seconds in exact[len(labels) :]]
    return _marks(labels, exact)


@cache
def aperture_marks(step: Step) -> tuple[Mark, ...]:
    """Return the f-number marks of a scale, ascending, f/0.95 to f/64.

    f/0.95 is a lens value off the steps and stands for itself; from f/1.0 on the exact value is 2^(Av/2)
    (Exif 2.2 Annex C).
    """
    labels = _labels(step, _APERTURES_THIRD, _APERTURES_HALF)
    exact = [math.exp2((_WIDEST_AV + i / step.per_stop) / 2) for i in range(len(labels))]
    return (Mark(label="f/0.95", exact=0.95), *_marks([f"f/{label}" for label in labels], exact))


@cache
def iso_marks(step: Step) -> tuple[Mark, ...]:
    """Return the sensitivity marks of a scale, ascending, ISO 25 to 409600.

    Exact values are 100 · 2^(k/3) (ISO 12232) or 100 · 2^(k/2). Half-stop labels are from memory.
    """
    labels = _labels(step, _ISOS_THIRD, _ISOS_HALF)
    return _marks(labels, [100 * _two_to(_LOWEST_ISO_LOG2, i, step) for i in range(len(labels))])


def nearest(marks: Sequence[Mark], exact: float) -> Mark:
    """Return the mark nearest to a value, counted in stops.

    Parameters
    ----------
    marks
        At least one mark, in any order.
    exact
        Positive, in the unit of the marks.
    """
    return min(marks, key=lambda mark: abs(math.log2(mark.exact / exact)))


def some_of(labels: Sequence[str]) -> str:
    """Write some of many labels, from the first to the last, so that what names them stays a sentence."""
    return ", ".join(dict.fromkeys((*labels[:: max(1, len(labels) // _NAMED)], labels[-1])))


def clock_label(seconds: float) -> str:
    """Write a time as whole seconds, from a minute on as on a clock: ``40``, ``1:04``, ``1:08:16``."""
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    if hours:
        return f"{hours}:{minutes:02}:{rest:02}"
    return f"{minutes}:{rest:02}" if minutes else str(rest)


def _labels(step: Step, thirds: str, halves: str) -> list[str]:
    if step is Step.HALF:
        return halves.split()
    return thirds.split()[:: 3 if step is Step.FULL else 1]


def _two_to(first_log2: int, steps: int, step: Step) -> float:
    """Return 2^(first + steps / per stop), rounded once, so that equal steps are equal numbers in every scale."""
    return math.exp2((first_log2 * step.per_stop + steps) / step.per_stop)


def _marks(labels: list[str], exact: list[float]) -> tuple[Mark, ...]:
    return tuple(Mark(label=label, exact=value) for label, value in zip(labels, exact, strict=True))
