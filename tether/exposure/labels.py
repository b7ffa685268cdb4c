"""Labels: reading what people and bodies write for a time, an f-number or a sensitivity, and writing it back.

A text that names a mark ("1/125", "0.008", "f/11") gets the mark's exact value and its usual label. Any other number
is taken literally. "60", "1m", "2m" and "4m" are literal 60, 60, 120 and 240 s: 0.093 stop short of the exact steps
64, 128 and 256 s, which are written "1:04", "2:08" and "4:16".
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cache, lru_cache

from tether.errors import PlanError
from tether.exposure.marks import Mark, Step, aperture_marks, clock_label, iso_marks, nearest, time_marks


class UnreadableLabelError(PlanError):
    """A text is no exposure time, f-number or sensitivity, or one beyond all sense."""


class AmbiguousLabelError(PlanError):
    """A label means one thing in third stops and another in half stops, and the step is not known."""


@dataclass(frozen=True, kw_only=True)
class _Name:
    """A number by which a mark goes: the one on its label, an alias, or its exact value."""

    number: float
    mark: Mark
    step: Step


@dataclass(frozen=True, kw_only=True, eq=False)
class _Quantity:
    """How to speak of a quantity to people, what is beyond sense, its marks, and how their labels are read."""

    what: str
    unit: str
    forms: str
    least: float
    most: float
    limits: str
    marks_of: Callable[[Step], tuple[Mark, ...]]
    number_of: Callable[[str], float]
    aliases: dict[Step, dict[str, float]] = field(default_factory=dict)


# What some bodies write instead of the usual label. 1/3 stands for 0.3 in either scale (from memory for halves).
_TIME_ALIASES = {
    Step.THIRD: {
        "1/12500": 1 / 12800,
        "1/25000": 1 / 25600,
        "0.3": 1 / 3,
        "0.6": 1 / 1.6,
        "0.8": 1 / 1.3,
        "6": 6.3,
        "10": 10.3,
    },
    Step.HALF: {"0.3": 1 / 3, "20": 20.3},
}
_TIME = _Quantity(
    what="an exposure time",
    unit=" s",
    forms="1/125, 0.5, 1.3 s, 2 min, 4:16, 1 h",
    least=1e-6,
    most=48 * 3600,
    limits="a millionth of a second to 48 h",
    marks_of=time_marks,
    number_of=lambda label: _seconds(label) or math.nan,
    aliases=_TIME_ALIASES,
)
_APERTURE = _Quantity(
    what="an f-number",
    unit="",
    forms="f/11, f5.6, 8",
    least=0.5,
    most=512,
    limits="f/0.5 to f/512",
    marks_of=aperture_marks,
    number_of=lambda label: float(label.removeprefix("f/")),
)
_ISO = _Quantity(
    what="a sensitivity",
    unit="",
    forms="ISO 100, 400",
    least=1,
    most=10_000_000,
    limits="ISO 1 to 10000000",
    marks_of=iso_marks,
    number_of=float,
)

# How far a number may be from a mark's and still mean it [stops]. Numbers are meant as written, to 0.05 %; only a
# fraction written as a decimal with few digits (0.0166 for 1/60) is given 0.8 %.
_AS_WRITTEN_STOPS = math.log2(1.0005)
_FEW_DIGITS_STOPS = math.log2(1.008)
_FRACTIONS_BELOW_S = 0.25

_NUMBER = r"((?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?)"
_SECONDS = r'(?:seconds?|secs?|s|")'
_FRACTION = re.compile(rf"{_NUMBER}\s*/\s*{_NUMBER}\s*{_SECONDS}?", re.ASCII)
_CLOCK = re.compile(r"(?:(\d+):(?=[0-5]?\d:))?(\d+):([0-5]\d(?:\.\d*)?)\s*(?:min|h)?", re.ASCII)
_UNITS = re.compile(
    rf"(?:{_NUMBER}\s*(?:hours?|hrs?|h))?\s*(?:{_NUMBER}\s*(?:minutes?|mins?|m|'))?\s*(?:{_NUMBER}\s*{_SECONDS}?)?",
    re.ASCII,
)
_POINT_AS_SECONDS = re.compile(r'(\d+)"(\d)', re.ASCII)
_F_NUMBER = re.compile(rf"(?:[fƒ]\s*/?\s*)?{_NUMBER}", re.ASCII)
_SPEED = re.compile(rf"(?:iso[\s:]*)?{_NUMBER}", re.ASCII)
_THOUSANDS = re.compile(r"(?<=\d)[, ](?=\d{3}(?!\d))", re.ASCII)
_PLAIN = str.maketrans({"″": '"', "”": '"', "’": "'", "′": "'", "\u00a0": " ", "\u202f": " "})


def parse_time(text: str, step: Step | None = None) -> Mark:
    """Read an exposure time in any form that people and bodies write.

    ``1/8``, ``0.125``, ``0.1250s``, ``2"``, ``0"3``, ``2m``, ``2 min``, ``2:08``, ``1:08:16``, ``4m16s``, ``10/13``,
    ``1/1.3s``, ``1h``; a decimal comma, typographic primes, any case, space around. A number of a mark, to 0.05 % (a
    decimal below 1/4 s to 0.8 %), means that mark; ``10.3`` and ``6.3`` are third-stop 10 and 6, ``20.3`` half-stop 20.

    Parameters
    ----------
    text
        What was written.
    step
        The scale in force; it decides between third and half stops where a label means both. None: not known.

    Returns
    -------
    Mark
        Exact value [s] and label, of a mark or literal.

    Raises
    ------
    UnreadableLabelError
        The text is no time, or one under 1 µs or over 48 h.
    AmbiguousLabelError
        The label means two times (1/20, 1/10, 1/6, 0.3, 6, 10, 20) and `step` does not decide.
    """
    seconds = _checked(_seconds(text), text, _TIME)
    few_digits = seconds < _FRACTIONS_BELOW_S and "/" not in text
    tolerance = _FEW_DIGITS_STOPS if few_digits else _AS_WRITTEN_STOPS
    mark = _mark_meant(seconds, step, tolerance, text, _TIME)
    return mark or Mark(label=time_label(seconds), exact=seconds)


def parse_aperture(text: str, step: Step | None = None) -> Mark:
    """Read an f-number: ``f/11``, ``F11``, ``f 5,6``, ``11``.

    Parameters, errors and the use of `step` are those of :func:`parse_time`; f/1.2 and f/13 are ambiguous, and what is
    outside f/0.5 to f/512 is refused.
    """
    number = _checked(_first_number(_F_NUMBER, _plain(text)), text, _APERTURE)
    mark = _mark_meant(number, step, _AS_WRITTEN_STOPS, text, _APERTURE)
    return mark or Mark(label=f"f/{_three_figures(number)}", exact=number)


def parse_iso(text: str, step: Step | None = None) -> Mark:
    """Read a sensitivity: ``ISO 100``, ``iso100``, ``100``, ``12,800``.

    Parameters and errors are those of :func:`parse_time`; what is outside ISO 1 to 10 000 000 is refused.
    """
    number = _checked(_first_number(_SPEED, _plain(_THOUSANDS.sub("", text))), text, _ISO)
    mark = _mark_meant(number, step, _AS_WRITTEN_STOPS, text, _ISO)
    return mark or Mark(label=_three_figures(number), exact=number)


@lru_cache(maxsize=4096)
def time_label(exact_s: float, step: Step = Step.THIRD) -> str:
    """Write an exposure time for people: a mark's label where it is one, else the time itself, rounded.

    Parameters
    ----------
    exact_s
        Time [s], positive.
    step
        The scale whose marks may be used.

    Returns
    -------
    str
        The label of the mark within 0.5 % (and half a second); else three figures (``1/181``, ``0.354``, ``15.0``,
        which is not the mark ``15`` of 16 s), or from 100 s on, and for whole seconds from a minute on, as on a clock
        (``1:30``, ``4:07``).
    """
    mark = nearest(time_marks(step), exact_s)
    if abs(mark.exact - exact_s) <= min(0.005 * mark.exact, 0.5):
        return mark.label
    if exact_s >= 100 or (exact_s >= 60 and abs(exact_s - round(exact_s)) < 0.05):
        return clock_label(exact_s)
    if exact_s < _FRACTIONS_BELOW_S:
        return f"1/{_three_figures(1 / exact_s)}"
    return f"{exact_s:#.3g}".rstrip(".")


def with_unit(label: str) -> str:
    """Add the unit to a time label: ``1/125 s``, ``4:16 min``, ``1:08:16 h``; a word such as "bulb" stays as it is."""
    if not label[-1:].isdigit():
        return label
    return f"{label} {('s', 'min', 'h')[label.count(':')]}"


def file_label(label: str) -> str:
    """Write a time label for a file's name: ``1-125s``, ``0.5s``, ``4m16s``, ``1h08m16s``."""
    if label[-1:].isdigit():
        parts = label.split(":")
        label = "".join(part + unit for part, unit in zip(parts, "hms"[-len(parts) :], strict=True))
    return re.sub(r"[^0-9A-Za-z.]+", "-", label)


def _seconds(text: str) -> float | None:
    """Return the number of seconds a text says, or None where it says none."""
    plain = _plain(_THOUSANDS.sub("", text) if "/" in text else text)
    plain = _POINT_AS_SECONDS.sub(r"\1.\2", plain) if _POINT_AS_SECONDS.fullmatch(plain) else plain
    if fraction := _FRACTION.fullmatch(plain):
        above, below = map(float, fraction.groups())
        return above / below if below else None
    match = _CLOCK.fullmatch(plain) or _UNITS.fullmatch(plain)
    if match is None or not any(match.groups()):
        return None
    hours, minutes, seconds = (float(group or 0) for group in match.groups())
    return hours * 3600 + minutes * 60 + seconds


def _plain(text: str) -> str:
    return text.translate(_PLAIN).replace("''", '"').replace(",", ".").strip().lower()


def _first_number(pattern: re.Pattern[str], plain: str) -> float | None:
    match = pattern.fullmatch(plain)
    return float(match[1]) if match else None


def _checked(number: float | None, text: str, quantity: _Quantity) -> float:
    shown = f"“{text.strip()[:40]}”"
    if number is None:
        raise UnreadableLabelError(f"{shown} cannot be read as {quantity.what}; forms that would do: {quantity.forms}.")
    if not quantity.least <= number <= quantity.most:
        raise UnreadableLabelError(f"{shown} is too small or too large for {quantity.what}: {quantity.limits}.")
    return number


def _mark_meant(
    number: float, step: Step | None, tolerance_stops: float, text: str, quantity: _Quantity
) -> Mark | None:
    """Return the mark whose name is nearest to the number; `step` decides between marks of the same name."""
    near = [(abs(math.log2(number / name.number)), name) for name in _names(quantity)]
    near = [(distance, name) for distance, name in near if distance <= tolerance_stops]
    if not near:
        return None
    least = min(distance for distance, _ in near)
    readings = {name.mark.exact: name for distance, name in near if distance == least}
    if len(readings) > 1:
        readings = {exact: name for exact, name in readings.items() if name.step is step} or readings
    if len(readings) > 1:
        raise AmbiguousLabelError(_two_readings(text, readings.values(), quantity))
    return next(iter(readings.values())).mark


def _two_readings(text: str, readings: Iterable[_Name], quantity: _Quantity) -> str:
    meanings = [f"{name.mark.exact:.4g}{quantity.unit} in {name.step.value} stops" for name in readings]
    return (
        f"“{text.strip()}” means {' and '.join(meanings)}; say which steps are in force, "
        "or write the one you mean with all its figures."
    )


@cache
def _names(quantity: _Quantity) -> tuple[_Name, ...]:
    """List the numbers each third- and half-stop mark goes by; the full stops are among both."""
    return tuple(
        _Name(number=number, mark=mark, step=step)
        for step in (Step.THIRD, Step.HALF)
        for mark in quantity.marks_of(step)
        for number in _numbers(mark, quantity.number_of, quantity.aliases.get(step, {}))
    )


def _numbers(mark: Mark, number_of: Callable[[str], float], aliases: dict[str, float]) -> tuple[float, ...]:
    own = (number_of(mark.label), mark.exact)
    return (*own, aliases[mark.label]) if mark.label in aliases else own


def _three_figures(number: float) -> str:
    return str(round(number)) if number >= 100 else f"{number:.3g}"
