"""What acts on a frame beside the light: its pieces of glass, its f-number, its ISO, and how far each may be off."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from tether.exposure.stops import aperture_stops, iso_stops

#: How far an f-number or an ISO other than the base's may be off what it says, one standard deviation [stops].
SETTING_DOUBT_STOPS = 0.06
#: How far a filter may be, at the least: as measured, and by its label [stops].
MEASURED_DOUBT_STOPS, NOMINAL_DOUBT_STOPS = 0.1, 0.3
#: What filters on one another take beyond their sum (common practice, no source) [stops].
TOGETHER_DOUBT_STOPS = 0.03
#: Two settings closer than this are the same [stops].
_SAME = 0.03


class Glass(Protocol):
    """A filter, as far as it is known: whether it was measured, and how far it may be off [stops]."""

    @property
    def measured(self) -> bool: ...
    @property
    def spread_stops(self) -> float: ...


@dataclass(frozen=True, kw_only=True)
class Term:
    """Something that acts on a frame beside the light: a piece of glass, an f-number, an ISO value.

    `doubt_stops` is how far it may be off what it says before a frame has told, one standard deviation; what may be
    mistaken for another is not believed at all where it is off by far more.
    """

    name: str
    doubt_stops: float
    mistakable: bool = False


@dataclass(frozen=True, kw_only=True)
class Acting:
    """What of a frame decides how bright it comes out, beside the light: its glass by name, its f-number, its ISO."""

    filters: tuple[str, ...]
    aperture: float
    iso: float


def terms_of(acting: Acting, base: Acting, glass: Mapping[str, Glass]) -> tuple[Term, ...]:
    """Return what may be off of a frame: its glass, and the settings that are not the base's."""
    terms = glass_terms(acting.filters, glass)
    if abs(aperture_stops(acting.aperture, base.aperture)) > _SAME:
        terms.append(Term(name=f"f/{acting.aperture:.2f}", doubt_stops=SETTING_DOUBT_STOPS))
    if abs(iso_stops(acting.iso, base.iso)) > _SAME:
        terms.append(Term(name=f"ISO {acting.iso:.0f}", doubt_stops=SETTING_DOUBT_STOPS))
    return tuple(terms)


def glass_terms(names: tuple[str, ...], glass: Mapping[str, Glass]) -> list[Term]:
    """Return what may be off of filters on the lens: each, and what they do on one another."""
    terms = [Term(name=name, doubt_stops=_doubt_stops(glass.get(name)), mistakable=True) for name in sorted(names)]
    if len(names) > 1:
        terms.append(Term(name=" + ".join(sorted(names)), doubt_stops=TOGETHER_DOUBT_STOPS))
    return terms


def _doubt_stops(found: Glass | None) -> float:
    if found is None:
        return NOMINAL_DOUBT_STOPS
    return max(found.spread_stops / 2, MEASURED_DOUBT_STOPS if found.measured else NOMINAL_DOUBT_STOPS)
