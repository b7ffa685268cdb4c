"""What a body's texts mean as numbers: its lists of times, apertures and ISO values, read by its body file's rules.

Texts are never compared as texts and never snapped alone: a list is read whole, since one label can stand for two
values and only its neighbours tell which scale is in force. The text itself is kept, because it is what is written.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import cache
from math import log2

from tether.body.driver.profile import DialReading
from tether.exposure.abilities import Dial
from tether.exposure.labels import AmbiguousLabelError, UnreadableLabelError, parse_aperture, parse_iso, parse_time
from tether.exposure.marks import Mark, Step, aperture_marks, iso_marks, nearest, time_marks

#: A number this near to a mark means it [stops]: bodies write 1/3200 s as 0.0003 s.
SNAP_STOPS = 0.05
#: A body's value this near to the one wanted is taken for it [stops]: a quarter of a third-stop step.
SAME_STOPS = 1 / 12

_PARSE: dict[Dial, Callable[[str, Step | None], Mark]] = {
    "time": parse_time,
    "aperture": parse_aperture,
    "iso": parse_iso,
}
_MARKS: dict[Dial, Callable[[Step], tuple[Mark, ...]]] = {
    "time": time_marks,
    "aperture": aperture_marks,
    "iso": iso_marks,
}
#: Stops in a doubling of the value: f-numbers count double.
_STOPS_EACH: dict[Dial, float] = {"time": 1.0, "aperture": 2.0, "iso": 1.0}
#: What bodies write for a mark whose usual label is another: by the scale of their list, and the label it is read as.
_ALSO = {(Step.THIRD, "3"): "3.2", (Step.HALF, "0.667"): "0.7"}
#: A fast time in units of 0.1 ms, the rest cut off: 1/1600 s is written 0.0006s.
_CUT = re.compile(r"0[.,]00(\d\d)s")


@dataclass(frozen=True, kw_only=True)
class Offered:
    """One value of a body's list: its text, and the exact number it stands for (None: bulb)."""

    text: str
    exact: float | None


def matches(text: str, patterns: Sequence[str]) -> bool:
    """Say whether a text is one of the patterns, in which ``*`` stands for anything and case does not matter."""
    plain = text.strip().casefold()
    return any(fnmatchcase(plain, pattern.casefold()) for pattern in patterns)


def offered(texts: Sequence[str], dial: Dial, reading: DialReading) -> tuple[Offered, ...]:
    """Read a body's list; what is no value of ours, or cannot be told from another, is left out.

    Bodies that write two values with the same text (fast times as ``0.0001s``) can't be told which one to take.
    """
    step = step_of(texts, dial, reading)
    twice = {text for text, times in Counter(texts).items() if times > 1}
    found: list[Offered] = []
    for text in dict.fromkeys(texts):
        is_bulb = dial == "time" and matches(text, reading.bulb)
        exact = None if is_bulb else exact_of(text, dial, reading, step)
        if is_bulb or (exact is not None and text not in twice):
            found.append(Offered(text=text, exact=exact))
    return tuple(found)


def step_of(texts: Sequence[str], dial: Dial, reading: DialReading) -> Step:
    """Return the scale that a body's list is in: what its file says, else the one that more of its texts are on."""
    if reading.step != "by the list":
        return Step(reading.step)
    thirds, halves = (
        sum(exact_of(text, dial, reading, step) in _exacts(dial, step) for text in texts)
        for step in (Step.THIRD, Step.HALF)
    )
    return Step.HALF if halves > thirds else Step.THIRD


def exact_of(text: str, dial: Dial, reading: DialReading, step: Step) -> float | None:
    """Return the number that a text stands for, in a list of this scale; None where it is no value of ours."""
    means = reading.means_in_halves | reading.means if step is Step.HALF else reading.means
    for meant, exact in means.items():
        if matches(text, (meant,)):
            return _snapped(exact, dial, step)
    if matches(text, reading.ignore):
        return None
    plain = text.strip()
    if dial == "time" and (cut := _CUT.fullmatch(plain)):
        return _uncut(int(cut[1]), step)
    if reading.plain_is_fraction and plain.isdecimal():
        plain = f"1/{plain}"
    try:
        mark = _PARSE[dial](plain, step)
        also = _ALSO.get((step, mark.label))
        exact = _PARSE[dial](also, step).exact if also else mark.exact
    except (UnreadableLabelError, AmbiguousLabelError):
        return None
    return _snapped(exact, dial, step)


def _uncut(tenths_ms: int, step: Step) -> float | None:
    """Return the one mark of a scale that is cut to so many tenths of a millisecond; None where there are several."""
    fast = [mark for mark in time_marks(step) if mark.label.startswith("1/")]
    by_label = [mark for mark in fast if 10_000 // int(mark.label.removeprefix("1/")) == tenths_ms]
    meant = by_label or [mark for mark in fast if int(10_000 * mark.exact) == tenths_ms]
    return meant[0].exact if len(meant) == 1 else None


def nearest_of(values: Sequence[Offered], exact: float, dial: Dial) -> Offered | None:
    """Return the value of a list that stands for a number, within :data:`SAME_STOPS`; None where there is none."""
    numbers = [(abs(log2(one.exact / exact)) * _STOPS_EACH[dial], one) for one in values if one.exact is not None]
    off_stops, best = min(numbers, key=lambda pair: pair[0], default=(SAME_STOPS, None))
    return best if off_stops < SAME_STOPS else None


@cache
def _exacts(dial: Dial, step: Step) -> frozenset[float]:
    return frozenset(mark.exact for mark in _MARKS[dial](step))


def _snapped(exact: float, dial: Dial, step: Step) -> float:
    """Return the mark that a number is near to: of the scale in force, then of the other; else the number."""
    for scale in (step, Step.HALF if step is Step.THIRD else Step.THIRD):
        mark = nearest(_MARKS[dial](scale), exact)
        if abs(log2(mark.exact / exact)) * _STOPS_EACH[dial] <= SNAP_STOPS:
            return mark.exact
    return exact
