"""A plan like an earlier one: its text, with the strengths of filters as they were measured since, and when."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from tether.plan.file import FilterEntry, plan_from_text
from tether.plan.measured import MeasuredFilter, is_same, tint_of


@dataclass(frozen=True, kw_only=True)
class Like:
    """The text of a plan, and a sentence on each of its filters of which something was measured."""

    text: str
    sentences: tuple[str, ...]


def with_strengths(text: str, known: Mapping[str, tuple[MeasuredFilter, str]]) -> Like:
    """Put measured strengths into a plan's filters that have none; all else in the text stays as it is.

    Parameters
    ----------
    text
        The plan.
    known
        Filters by name, as they were measured, each with where that was.

    Raises
    ------
    PlanError
        If the text is not a plan.
    """
    import tomlkit  # what only writes plans needs

    entries = plan_from_text(text).filter
    document = tomlkit.parse(text)
    tables: Any = document.get("filter", [])
    told = [
        _put(table, entry, *known[entry.name])
        for table, entry in zip(tables, entries, strict=True)
        if entry.name in known
    ]
    whole = tomlkit.dumps(document)
    plan_from_text(whole)
    return Like(text=whole, sentences=tuple(told))


def _put(table: Any, entry: FilterEntry, found: MeasuredFilter, where: str) -> str:
    """Put a strength into a filter's table, and say so, or why it is not."""
    import tomlkit

    from tether.plan.tables import put

    nominal = entry.as_filter().nominal_stops
    measured = f"{found.stops:.2f} ± {found.uncertainty_stops:.2f} stop on {found.measured_on}, {where}"
    if entry.measured_stops is not None:
        return f"{entry.name}: stays {entry.measured_stops:g} stop, as the plan has it; measured {measured}."
    if not is_same(found, nominal):
        return f"{entry.name}: stays {nominal:.1f} stop, as labelled; this looks like another filter: {measured}."
    remark = f"on {found.measured_on}, {where}"
    put(table, "measured_stops", tomlkit.item(round(found.stops, 2)).comment(remark))
    if entry.uncertainty_stops is None:
        put(table, "uncertainty_stops", tomlkit.item(round(found.uncertainty_stops, 2)))
    tint = tint_of(found)
    if tint is not None and entry.tint_stops is None:
        put(table, "tint_stops", tomlkit.item(round(tint, 2)))
    return f"{entry.name}: taken as measured, {measured}."
