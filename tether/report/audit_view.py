"""The audit of a ladder for the terminal: where each frame's light went."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderableType
from rich.text import Text

from tether import wording as words
from tether.journal.story import FrameStory, Outing
from tether.report.audit import Split, audit
from tether.report.filters_told import filters_told
from tether.report.layout import Column, heading, listing, table
from tether.report.said_of_frames import WIDE, streak


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
            told = [
                (one.name, f"takes {one.stops:.2f} ±{one.uncertainty_stops:.2f} stops") for one in filters_told(ladder)
            ]
            yield from listing("Filters, by all frames of the ladder", told)
            clipped = [frame.frame for frame in ladder.frames if frame.readings and frame.readings.rock_clipped]
            if clipped:
                which = f"frame {words.in_words(clipped)}"
                yield Text(f"Clipped where all stands still, so that nothing is measured there: {which}.")
            frames = [frame for frame in ladder.frames if frame.readings and frame.readings.definition]
            if frames:
                yield Text()
                yield table(_WATER, frames, options.max_width)
                yield Text(_WATER_LEGEND)


_LEGEND = (
    "Stops against the base, of what stands still: level = wanted + rounding + changed + hold + light + rest. Wanted:"
    " darkened by the plan; of a test, what it was set for. Rounding: left by the body's lists. Changed: steered or"
    " corrected. Hold: open longer (+) or shorter than asked. Light: as all frames of the ladder tell it. Rest: filters"
    " that are not what they say, apertures, leaks. ± is about 95 %."
)


_WATER_LEGEND = (
    "Water: the contrast of its texture over that of the rock, 0 like silk, above 1 frozen. Streak: how far it ran"
    " while the shutter was open, as the frame shows it, and as the plan's speed has it [px]."
)


def _place(one: Split | FrameStory) -> str:
    return words.place(one.rung, one.kind)


def _definition(frame: FrameStory) -> str:
    found = frame.readings.definition if frame.readings else None
    return words.NOT_KNOWN if found is None else f"{found.value:.2f} ±{WIDE * found.uncertainty:.2f}"


def _predicted(frame: FrameStory) -> str:
    streak = frame.readings.streak if frame.readings else None
    return words.NOT_KNOWN if streak is None or streak.predicted_px is None else f"{streak.predicted_px:.0f}"


_WATER: tuple[Column[FrameStory], ...] = (
    Column(heading="Rung", shows=_place),
    Column(heading="No", shows=lambda frame: str(frame.frame), number=True),
    Column(heading="Open", shows=lambda frame: words.measured_time(frame.believed_open_s), number=True),
    Column(heading="Water", shows=_definition, number=True),
    Column(
        heading="Streak", shows=lambda frame: streak(frame.readings.streak if frame.readings else None), number=True
    ),
    Column(heading="By the plan", shows=_predicted, number=True),
)


def _with_uncertainty(stops: float, uncertainty: float) -> str:
    return f"{words.stops(stops)} ±{WIDE * uncertainty:.2f}"


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
        shows=lambda split: _with_uncertainty(split.rest_stops, split.rest_uncertainty_stops),
        number=True,
    ),
)
