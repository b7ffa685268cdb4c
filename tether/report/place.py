"""What is known of a place, for the terminal and as data: how it was framed last, and its filters as measured."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from rich.console import Console, ConsoleOptions, RenderableType
from rich.text import Text

from tether.plan.file import Place
from tether.report.done_before import OutingDone, place_json
from tether.report.done_before_view import DoneView, place_words
from tether.report.filters_told import Strength
from tether.report.layout import Column, heading, listing, short_path, table
from tether.wording import utc_text


@dataclass(frozen=True, kw_only=True)
class Framing:
    """How a picture was framed: the preview of a base frame, and when its outing was begun."""

    preview: Path
    begun_utc: datetime


@dataclass(frozen=True, kw_only=True)
class PlaceKnown:
    """What is known of a place; `framing` None: no base frame was taken there."""

    place: Place
    outings: tuple[OutingDone, ...]
    framing: Framing | None
    filters: tuple[Strength, ...]


@dataclass(frozen=True)
class PlaceView:
    """What `tether outings --near` prints: a rich renderable that fits itself to the width at hand, from 80 on."""

    known: PlaceKnown

    def __rich_console__(self, _console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        known = self.known
        where = place_words(known.place)
        if not known.outings:
            yield Text(f"No outing is known at {where}. See those that are: tether outings")
            return
        yield Text(where, style="bold")
        yield Text()
        yield DoneView(known.outings)
        if known.framing:
            day = f"{known.framing.begun_utc.astimezone():%Y-%m-%d}"
            yield from listing("Framed last", [(day, short_path(known.framing.preview))])
        if known.filters:
            yield heading("Filters as measured")
            yield table(_COLUMNS, known.filters, options.max_width)


def known_json(known: PlaceKnown) -> dict[str, Any]:
    """Return what is known of a place as plain data, ready for JSON; its outings are listed beside it."""
    framing = known.framing
    return {
        **place_json(known.place),
        "framing": framing and {"preview": str(framing.preview), "begun_utc": utc_text(framing.begun_utc)},
        "filters": [_strength_json(one) for one in known.filters],
    }


def _strength_json(one: Strength) -> dict[str, Any]:
    found = one.found
    return {
        "name": found.name,
        "stops": found.stops,
        "uncertainty_stops": found.uncertainty_stops,
        "measured_on": found.measured_on.isoformat(),
        "how": one.how,
        "simulated": found.simulated,
    }


_COLUMNS: Sequence[Column[Strength]] = (
    Column(heading="Filter", shows=lambda one: one.found.name, folds=True),
    Column(heading="Stops", shows=lambda one: f"{one.found.stops:.2f}", number=True),
    Column(heading="±", shows=lambda one: f"{one.found.uncertainty_stops:.2f}", number=True),
    Column(heading="On", shows=lambda one: one.found.measured_on.isoformat()),
    Column(heading="How", shows=lambda one: f"{one.how}{', simulated' if one.found.simulated else ''}", folds=True),
)
