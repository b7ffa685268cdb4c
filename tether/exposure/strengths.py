"""Reading the strength of a filter as people and makers write it: ``ND1000``, ``1000x``, ``d0.9``, ``6 stops``.

A factor N is log2 N stops, a density D is log2 of 10^D stops (ISO 5). A number alone is read too, but what it was taken
for is a value of its own, so that nobody is left with a guess that was not told.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from tether.errors import PlanError
from tether.exposure.filters import STOPS_OF, Kind, Way

#: What a polariser takes from the light where it is not said [stops]; most take 1 to 2 (common practice, no source).
_POLARISER_STOPS = 1.5
#: The strongest filter that a plan may name, in each way to say it.
_MOST = {"stops": 30.0, "density": 9.0, "factor": 1e9}
#: A whole number alone up to this is taken for stops, a greater one for a factor (own choice: strengths that are sold).
_MOST_STOPS_ALONE = 30
#: A number with figures after the point is taken for a density up to this, 15 stops, where it says none (own choice).
_MOST_DENSITY_ALONE = 4.5
#: Up to this, "ND10" may be said of a filter of ten stops; the factors among them that are sold, which are meant.
_MOST_EITHER, _FACTORS_SOLD = 20, (2, 4, 8, 16)

_NUMBER = r"(\d{1,3}(?:[, ]\d{3})+|\d+(?:[.,]\d+)?|[.,]\d+)"
_THOUSANDS = re.compile(r"[1-9]\d{0,2}(?:[, ]\d{3})+", re.ASCII)


def _form(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern.replace("#", _NUMBER), re.ASCII)


_ND, _ALONE = _form(r"nd[ -]*#"), _form("#")
_WRITTEN: tuple[tuple[Way, re.Pattern[str]], ...] = (
    ("stops", _form(r"#[ -]*stops?")),
    ("factor", _form(r"#[ ]*(?:x|times)")),
    ("factor", _form(r"(?:x|factor)[ ]*#")),
    ("density", _form(r"(?:d|od|density)[ ]*#")),
    ("density", _form(r"#[ ]*(?:d|density)")),
)
_POLARISER = _form(r"(?:circular |c-?)?pol(?:a|ari[sz](?:er|ing))?(?: filter)?(?:[:,]? *#(?:[ -]*stops?)?)?")
_CPL = _form(r"cpl(?:[:,]? *#(?:[ -]*stops?)?)?")


class UnreadableStrengthError(PlanError):
    """A text says no strength of a filter, or one beyond sense."""


@dataclass(frozen=True, kw_only=True)
class Strength:
    """How strong a filter is, as it was written.

    Attributes
    ----------
    way, number
        In which of the three ways it was said, and the number.
    kind
        ``always on`` for a polariser.
    taken
        A sentence where it may mean something else as well: what it was taken for, and how to write the other.
    """

    way: Way
    number: float
    kind: Kind = "nd"
    taken: str = ""

    @property
    def stops(self) -> float:
        """The strength by its label [stops]."""
        return STOPS_OF[self.way](self.number)

    @property
    def name(self) -> str:
        """What the filter is called where the person gave it no name."""
        if self.kind == "always on":
            return "polariser"
        return {"stops": _stops(self.number), "factor": f"ND{self.number:.12g}"}.get(self.way, f"ND {self.number!r}")

    @property
    def said(self) -> str:
        """The strength in words: ``factor 1000, 9.97 stops``."""
        if self.kind == "always on":
            return f"{_stops(self.number)}, on for the whole ladder"
        return _stops(self.number) if self.way == "stops" else f"{self.way} {self.number:.12g}, {_stops(self.stops)}"


def read_strength(text: str) -> Strength:
    """Read the strength of a filter.

    ``6 stops``, ``ND64``, ``ND 0.9``, ``64x``, ``factor 64``, ``d0.9``, ``density 0.9``, ``polariser``, and a number
    alone: up to 30 it is stops, above a factor, with figures after the point a density. "ND" and a whole number is a
    factor, with figures after the point a density. Decimal commas, any case.

    Raises
    ------
    UnreadableStrengthError
        The text is no strength, or the filter would be of no stop or of more than 30.
    """
    plain = " ".join(text.replace("×", "x").lower().split())
    found = _polariser(plain) or _with_unit(plain) or _nd(plain, text.strip()) or _alone(plain, text.strip())
    if found is None:
        raise UnreadableStrengthError(
            f"“{text.strip()[:40]}” cannot be read as the strength of a filter; "
            "forms that would do: 6 stops, ND64, 64x, d1.8 or polariser."
        )
    if found.way == "factor" and found.number <= 1:
        raise UnreadableStrengthError(
            f"“{text.strip()}”: a factor is more than 1, for it is how many times longer the exposure must be."
        )
    if not 0 < found.number <= _MOST[found.way]:
        raise UnreadableStrengthError(f"“{text.strip()}”: a filter is of more than 0 and at most 30 stops.")
    return found


def _value(number: str) -> float:
    if _THOUSANDS.fullmatch(number):
        return float(re.sub("[, ]", "", number))
    return float(number.replace(",", "."))


def _whole(number: str) -> bool:
    return number.isdecimal() or _THOUSANDS.fullmatch(number) is not None


def _stops(number: float) -> str:
    return f"{number:.2f}".rstrip("0").rstrip(".") + (" stop" if number == 1 else " stops")


def _with_unit(plain: str) -> Strength | None:
    """Read a number whose unit stands with it."""
    matches = ((way, pattern.fullmatch(plain)) for way, pattern in _WRITTEN)
    return next((Strength(way=way, number=_value(match[1])) for way, match in matches if match), None)


def _nd(plain: str, text: str) -> Strength | None:
    """Read "ND" and a number: a factor where it is whole, a density where it has figures after the point."""
    match = _ND.fullmatch(plain)
    if match is None:
        return None
    number = _value(match[1])
    if not _whole(match[1]):
        return Strength(way="density", number=number) if number <= _MOST_DENSITY_ALONE else None
    either = 1 < number <= _MOST_EITHER and number not in _FACTORS_SOLD
    taken = _taken(text, "a factor", "stops", _stops(number)) if either else ""
    return Strength(way="factor", number=number, taken=taken)


def _alone(plain: str, text: str) -> Strength | None:
    """Read a number alone, and say what it was taken for."""
    match = _ALONE.fullmatch(plain)
    if match is None:
        return None
    number = _value(match[1])
    if not _whole(match[1]) and number <= _MOST_DENSITY_ALONE:
        return Strength(way="density", number=number, taken=_taken(text, "a density", "stops", _stops(number)))
    if not _whole(match[1]):
        return stops_alone(text, number)
    if number <= _MOST_STOPS_ALONE:
        return Strength(way="stops", number=number, taken=_taken(text, "stops", "a factor", f"ND{number:.12g}"))
    return Strength(way="factor", number=number, taken=f"{text} is taken for a factor, ND{number:.12g}.")


def stops_alone(text: str, number: float) -> Strength:
    """Take a number alone, with figures after the point, for stops, and say so."""
    return Strength(way="stops", number=number, taken=_taken(text, "stops", "a density", f"d{number:.12g}"))


def _taken(text: str, what: str, other: str, form: str) -> str:
    return f"{text} is taken for {what}; if it is {other}, write {form}."


def _polariser(plain: str) -> Strength | None:
    """Read a polariser; what it takes from the light is a guess where it is not said."""
    match = _POLARISER.fullmatch(plain) or _CPL.fullmatch(plain)
    if match is None:
        return None
    if match[1]:
        return Strength(way="stops", number=_value(match[1]), kind="always on")
    taken = (
        "A polariser is taken for 1.5 stops, as most take 1 to 2; the ladder is the same in any case, for it stays on. "
        "If you know better, write polariser 1.3 stops."
    )
    return Strength(way="stops", number=_POLARISER_STOPS, kind="always on", taken=taken)
