"""Answers to what `tether new` asks for: read as people write them, one by one, and said back."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import partial

from tether.errors import PlanError
from tether.exposure.labels import parse_aperture, parse_iso, parse_time, with_unit
from tether.exposure.marks import Mark, Step
from tether.exposure.strengths import Strength, UnreadableStrengthError, read_strength, stops_alone
from tether.light.spot import Spot
from tether.plan.new import NewFilter

_FOCAL = re.compile(r"(\d+(?:[.,]\d+)?|[.,]\d+)\s*(?:mm)?", re.ASCII | re.IGNORECASE)
#: What a plan takes: focal length [mm], characters of a title.
_SHORTEST_MM, _LONGEST_MM = 1.0, 2000.0
_LONGEST_TITLE = 60
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]")
#: What a plan takes as a filter's name.
_LONGEST_NAME = 40
_PARTS = re.compile(r"(?<!\d),|,(?!\d)", re.ASCII)
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?", re.ASCII)
#: After a name, a number up to this is stops.
_MOST_STOPS = 30.0


@dataclass(frozen=True, kw_only=True)
class Answer:
    """An answer: the value for the plan (None: it has none), and what is said back."""

    value: str | float | Spot | None
    said: str


def read_answer(name: str, text: str, known: Mapping[str, object]) -> Answer:
    """Read one answer, in the units people write: ``28mm``, ``1/125s``, ``f8``, ``2 min``, ``ISO 100``.

    Parameters
    ----------
    name
        Which of the answers of :class:`tether.plan.new.Answers` it is.
    text
        What was written.
    known
        The other answers, which it must go with; those that aren't known are left out.

    Raises
    ------
    PlanError
        It makes no sense, or does not go with another answer; a sentence says what would.
    """
    return _READ[name](text.strip(), known)


def _title(text: str, _known: Mapping[str, object]) -> Answer:
    if not 0 < len(text) <= _LONGEST_TITLE or _CONTROL.search(text):
        raise PlanError(f"A title has 1 to {_LONGEST_TITLE} characters on one line.")
    return Answer(value=text, said=text)


def _focal(text: str, _known: Mapping[str, object]) -> Answer:
    match = _FOCAL.fullmatch(text)
    if match is None:
        raise PlanError(f"“{text[:40]}” cannot be read as a focal length; forms that would do: 28mm, 28, 70.5 mm.")
    focal_mm = float(match[1].replace(",", "."))
    if not _SHORTEST_MM < focal_mm <= _LONGEST_MM:
        raise PlanError(f"“{text}”: a focal length is more than {_SHORTEST_MM:g} and at most {_LONGEST_MM:g} mm.")
    return Answer(value=focal_mm, said=f"{focal_mm:g} mm")


def _time(text: str, _known: Mapping[str, object]) -> Answer:
    return Answer(value=text, said=with_unit(parse_time(text, Step.THIRD).label))


def _rung(text: str, known: Mapping[str, object], own: str, other: str, order: str) -> Answer:
    """Read the time of the rung at one end, which must be `order` than that at the other end."""
    answer, end = _time(text, known), _mark(parse_time, known.get(other))
    if end is not None:
        beyond_s = parse_time(text, Step.THIRD).exact - end.exact
        if beyond_s >= 0 if order == "shorter" else beyond_s <= 0:
            raise PlanError(f"The {own} rung, {answer.said}, must be {order} than the {other}, {with_unit(end.label)}.")
    return answer


def _iso(text: str, _known: Mapping[str, object]) -> Answer:
    return Answer(value=text, said=f"ISO {parse_iso(text, Step.THIRD).label}")


def _f_number(text: str, _known: Mapping[str, object]) -> Answer:
    return Answer(value=text, said=parse_aperture(text, Step.THIRD).label)


def _narrowest(text: str, known: Mapping[str, object]) -> Answer:
    answer = _f_number(text, known)
    widest = _mark(parse_aperture, known.get("widest"))
    if widest is not None and parse_aperture(text, Step.THIRD).exact <= widest.exact:
        raise PlanError(
            f"The lens's narrowest aperture, {answer.said}, must be narrower than its widest, {widest.label}."
        )
    return answer


def _base_aperture(text: str, known: Mapping[str, object]) -> Answer:
    answer, exact = _f_number(text, known), parse_aperture(text, Step.THIRD).exact
    widest, narrowest = (_mark(parse_aperture, known.get(name)) for name in ("widest", "narrowest"))
    if widest and narrowest and not widest.exact <= exact <= narrowest.exact:
        raise PlanError(
            f"{answer.said} is not an aperture of the lens, which goes from {widest.label} to {narrowest.label}; "
            "another lens is given with --widest and --narrowest."
        )
    return answer


def _mark(parse: Callable[[str, Step | None], Mark], text: object) -> Mark | None:
    """Return what another answer means; None where it isn't known or makes no sense itself."""
    try:
        return parse(text, Step.THIRD) if isinstance(text, str) else None
    except PlanError:
        return None


_READ: dict[str, Callable[[str, Mapping[str, object]], Answer]] = {
    "title": _title,
    "focal_mm": _focal,
    "widest": _f_number,
    "narrowest": _narrowest,
    "base_time": _time,
    "base_aperture": _base_aperture,
    "base_iso": _iso,
    "shortest": partial(_rung, own="shortest", other="longest", order="shorter"),
    "longest": partial(_rung, own="longest", other="shortest", order="longer"),
}


# Filters


def parts_of(text: str) -> tuple[str, ...]:
    """Split a list of filters at its commas; one between two figures is a decimal comma or parts thousands."""
    return tuple(part.strip() for part in _PARTS.split(text) if part.strip())


def filter_of(text: str, bag: Iterable[NewFilter] = ()) -> NewFilter:
    """Read a filter: ``ND64``, ``Calder 6 = ND64``, ``Calder 6=6`` (stops), or the name of one in the bag.

    Parameters
    ----------
    text
        What was written; see :func:`tether.exposure.strengths.read_strength`.
    bag
        Filters that are known by name.

    Raises
    ------
    PlanError
        With the forms that would do.
    """
    known = {one.name.casefold(): one for one in bag}
    if found := known.get(text.strip().casefold()):
        return found
    name, _, written = text.rpartition("=")
    try:
        strength = _after_name(written.strip()) if name.strip() else read_strength(written)
    except UnreadableStrengthError as error:
        names = f" Measured filters go by their names: {', '.join(one.name for one in known.values())}." * bool(known)
        raise PlanError(f'{error} A name stands before it, such as "Calder 6 = ND64".{names}') from None
    name = name.strip() or strength.name
    if len(name) > _LONGEST_NAME:
        raise PlanError(f"“{name}”: a filter's name has at most {_LONGEST_NAME} characters.")
    return NewFilter(name=name, strength=strength)


def _after_name(written: str) -> Strength:
    """Read what stands after a name; a number alone is stops there, and one such as 0.9 says so."""
    number = float(written.replace(",", ".")) if _NUMBER.fullmatch(written) else 0.0
    if not 0 < number <= _MOST_STOPS:
        return read_strength(written)
    return Strength(way="stops", number=number) if number.is_integer() else stops_alone(written, number)
