"""Filters as they were measured by light: read from a file of the user's, and laid into a plan.

A filter is known by its name. What a plan says itself comes first; what was measured on the simulated body is used for
that body only, and never for a camera.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date
from typing import Annotated, Literal

from pydantic import Field, ValidationError

from tether.errors import PlanError
from tether.plan.file import FilterEntry, Plan, Section
from tether.validation import key_sentences, read_toml

FILTERS_NAME = "filters.toml"
#: A filter that is farther off its label than this share of it, and than a stop, is another one of the same name
#: (own choice; makers are within 10 %, ANSI PH2.19-1976).
_SAME_SHARE, _SAME_STOPS = 0.3, 1.0


class MeasuredFilter(Section):
    """One filter as it was measured.

    Attributes
    ----------
    name
        As plans call it.
    stops, uncertainty_stops
        Strength in green, and half of its 95 % interval [stops].
    cast_stops
        What it takes from red and blue beyond that [stops].
    measured_on, with_body
        The day, and the body.
    simulated
        Whether that was the simulated body.
    """

    name: Annotated[str, Field(min_length=1)]
    stops: Annotated[float, Field(gt=0, le=30)]
    uncertainty_stops: Annotated[float, Field(ge=0, le=10)]
    cast_stops: dict[Literal["R", "B"], float] = Field(default_factory=dict)
    measured_on: date
    with_body: str
    simulated: bool = False


class _File(Section):
    filter: list[MeasuredFilter] = Field(default_factory=list)


def filters_of_text(text: str) -> tuple[MeasuredFilter, ...]:
    """Read measured filters from a file's text. Raises PlanError with a sentence for every mistake."""
    try:
        return tuple(_File.model_validate(read_toml(text, FILTERS_NAME)).filter)
    except ValidationError as error:
        raise PlanError(*key_sentences(FILTERS_NAME, error, _File.model_fields)) from error


def with_measured(plan: Plan, known: Iterable[MeasuredFilter], *, simulated: bool) -> tuple[Plan, tuple[str, ...]]:
    """Lay measured filters into a plan.

    Parameters
    ----------
    known
        All that were measured; of one name the last counts.
    simulated
        Whether the plan's body is simulated.

    Returns
    -------
    Plan
        The plan, its filters with their measured strength where they had none of their own.
    tuple of str
        A sentence for each filter that was measured.
    """
    of_body = {one.name: one for one in known if one.simulated == simulated}
    laid = [_laid(entry, of_body) for entry in plan.filter]
    sentences = tuple(sentence for _, sentence in laid if sentence)
    return replace(plan, filter=tuple(entry for entry, _ in laid)), sentences


def is_same(found: MeasuredFilter, nominal_stops: float) -> bool:
    """Say whether a filter of this name and label [stops] can be the one that was measured."""
    return abs(found.stops - nominal_stops) <= max(_SAME_STOPS, _SAME_SHARE * nominal_stops)


def tint_of(found: MeasuredFilter) -> float | None:
    """Return what it takes from the channel that it holds back most, beyond green [stops]; None: not measured."""
    return max(0.0, *found.cast_stops.values()) if found.cast_stops else None


def _laid(entry: FilterEntry, known: Mapping[str, MeasuredFilter]) -> tuple[FilterEntry, str | None]:
    found = known.get(entry.name)
    if found is None or entry.measured_stops is not None:
        return entry, None
    nominal = entry.as_filter().nominal_stops
    if not is_same(found, nominal):
        return entry, (
            f"{entry.name} was measured as {found.stops:.2f} stop on {found.measured_on}, which is not used: its label"
            f" says {nominal:.1f}, so it is taken for another filter of that name."
        )
    laid = entry.model_copy(
        update={
            "measured_stops": found.stops,
            "uncertainty_stops": found.uncertainty_stops,
            "tint_stops": tint_of(found) if entry.tint_stops is None else entry.tint_stops,
        }
    )
    where = " on the simulated body" if found.simulated else ""
    return laid, (
        f"{entry.name}: measured {found.stops:.2f} ± {found.uncertainty_stops:.2f} stop on {found.measured_on}{where}."
    )
