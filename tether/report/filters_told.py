"""How strong filters were, as the frames of a ladder tell: after the fact, from the journal alone."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from tether.journal.story import LadderStory
from tether.plan.measured import MeasuredFilter

#: What frames leave more uncertain is not worth keeping: half of a 95 % interval (own choice) [stops].
_DOUBTFUL_STOPS = 0.3
#: No filter is stronger [stops].
_STRONGEST_STOPS = 30


@dataclass(frozen=True, kw_only=True)
class Strength:
    """A filter as it was measured, and how: by itself, or in which outing."""

    found: MeasuredFilter
    how: str


def filters_told(ladder: LadderStory) -> tuple[MeasuredFilter, ...]:
    """Return the strengths that a ladder's frames tell of its filters, each with the day and its doubt.

    Only where nobody said that what was taken to stand still does not; of a graduated filter nothing is told.
    """
    planned, on = ladder.planned, _day_of(ladder)
    if planned is None or on is None or ladder.regions is None or ladder.regions.source == "refused":
        return ()
    from tether.report.audit import off_by_frames  # it reckons with arrays

    off = off_by_frames(ladder)
    known = {one.name: one for one in planned.filters_on_hand if one.kind == "nd"}
    sure = {name: one for name, one in off.items() if name in known and 2 * one.doubt_stops <= _DOUBTFUL_STOPS}
    return tuple(
        MeasuredFilter(
            name=name,
            stops=known[name].stops - one.stops,
            uncertainty_stops=2 * one.doubt_stops,
            measured_on=on,
            with_body=planned.body.name,
            simulated=planned.body.simulated,
        )
        for name, one in sure.items()
        if 0 < known[name].stops - one.stops <= _STRONGEST_STOPS
    )


def _day_of(ladder: LadderStory) -> date | None:
    """Return the day of a ladder's first frame, by the clock of this computer."""
    opened = next((frame.opened_utc for frame in ladder.frames if frame.opened_utc), None)
    return None if opened is None else datetime.fromisoformat(opened).astimezone().date()
