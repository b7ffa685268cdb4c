"""The audit of a ladder for the terminal: where each frame's light went."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderableType
from rich.text import Text

from tether.journal.story import Outing
from tether.report import words
from tether.report.audit import Split, audit
from tether.report.layout import Column, heading, table

#: Uncertainties are shown so many standard ones wide: about 95 %.
_WIDE = 2.0


@dataclass(frozen=True)
class AuditView:
    """What `tether log --audit` prints; a rich renderable."""

    outing: Outing

    def __rich_console__(self, _console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        if self.outing.simulated:
            yield Text(words.SIMULATED, style="bold")
        for ladder in self.outing.ladders:
            yield heading(f"Ladder {ladder.ladder}: {ladder.title or 'without a title'}")
            splits = audit(ladder)
            if splits:
                yield table(_COLUMNS, splits, options.max_width)
                yield Text(_LEGEND)
            else:
                yield Text("No frame of it could be read against its base.")


_LEGEND = (
    "Stops against the base, of what stands still: level = wanted + rounding + changed + hold + light + rest. Wanted:"
    " darkened by the plan. Rounding: left by the body's lists. Changed: steered or corrected. Hold: open longer (+) or"
    " shorter than asked. Light: as frames through the same filters tell it. Rest: filters that are not what they say,"
    " apertures, leaks. ± is about 95 %."
)


def _place(split: Split) -> str:
    rung = "" if split.rung is None else str(split.rung)
    return rung if split.kind == "rung" else f"{rung} {split.kind}".strip()


def _with_uncertainty(stops: float, uncertainty: float) -> str:
    return f"{words.stops(stops)} ±{_WIDE * uncertainty:.2f}"


_COLUMNS: tuple[Column[Split], ...] = (
    Column(heading="Rung", shows=_place),
    Column(heading="No", shows=lambda split: str(split.frame), number=True),
    Column(heading="Level", shows=lambda split: words.stops(split.level_stops), number=True),
    Column(heading="Wanted", shows=lambda split: words.stops(split.wanted_stops), number=True),
    Column(heading="Rounding", shows=lambda split: words.stops(split.rounding_stops), number=True),
    Column(heading="Changed", shows=lambda split: words.stops(split.changed_stops), number=True),
    Column(heading="Hold", shows=lambda split: words.stops(split.hold_stops), number=True),
    Column(
        heading="Light",
        shows=lambda split: _with_uncertainty(split.light_stops, split.uncertainty_stops),
        number=True,
    ),
    Column(
        heading="Rest",
        shows=lambda split: _with_uncertainty(split.rest_stops, split.uncertainty_stops),
        number=True,
    ),
)
