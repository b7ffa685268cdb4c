"""Outings for the terminal: when, what and where, how much was made, what was kept, and in what light."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from rich.console import Console, ConsoleOptions, RenderableType
from rich.text import Text

from tether import wording as words
from tether.plan.file import Place
from tether.plan.learned import Figure, What, figure_words
from tether.report.done_before import KeptFrame, OutingDone
from tether.report.layout import Column, listing, short_path, table

#: A light that changed by less was steady [stops].
_STEADY_STOPS = 0.1


@dataclass(frozen=True)
class DoneView:
    """What `tether outings` prints: a rich renderable that fits itself to the width at hand, from 80 characters up.

    `learned` is what the outings that are remembered tell of how long things take.
    """

    outings: Sequence[OutingDone]
    learned: Mapping[tuple[What, str], Figure] = field(default_factory=dict)

    def __rich_console__(self, _console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        if not self.outings:
            yield Text("No outing is known yet. Show a folder that has some: tether outings FOLDER")
            return
        rows = list(enumerate(self.outings, start=1))
        yield table(_COLUMNS, rows, options.max_width)
        yield Text("Rungs: finished of planned, a line for each ladder.")
        yield Text("Kept: times of frames chosen to keep. Streak: how far the water ran there [px].")
        yield Text("Light: the base as EV at ISO 100, and the change until the end [stops].")
        yield from listing("Folders", [(str(number), short_path(one.folder)) for number, one in rows])
        told = [figure_words(what, of, figure) for (what, of), figure in self.learned.items()]
        yield from listing("Learned on cameras", [("·", sentence) for sentence in told])


_Row = tuple[int, OutingDone]


def _what(one: OutingDone) -> str:
    where = place_words(one.place)
    parts = [one.title, *([where] if where and where != one.title else [])]
    return f"{', '.join(parts)}{' (rehearsed)' if one.simulated else ''}{' (running)' if one.running else ''}"


def place_words(place: Place) -> str:
    """Write a place by its name, else by where on the earth it is; empty where the plan says neither."""
    return place.name or (words.spot(place.spot.latitude, place.spot.longitude) if place.spot else "")


def _rungs(one: OutingDone) -> str:
    return "\n".join(f"{ladder.rungs_done}/{ladder.rungs}" for ladder in one.ladders)


def kept_times(kept: Sequence[KeptFrame]) -> str:
    """Write the times of kept frames, shortest first, each once: ``1/8 s, 2 s (3)``."""
    known = sorted(frame.time_s for frame in kept if frame.time_s)
    labels = [words.planned_time(time_s) for time_s in known]
    counted = {label: labels.count(label) for label in labels}
    told = [label if count == 1 else f"{label} ({count})" for label, count in counted.items()]
    return ", ".join(told) or words.NOT_KNOWN


def streaks(kept: Sequence[KeptFrame]) -> str:
    """Write how long the streaks of kept frames are [px]: ``14``, ``14 to 83``."""
    known = [frame.streak_px for frame in kept if frame.streak_px is not None]
    if not known:
        return words.NOT_KNOWN
    least, most = f"{min(known):.0f}", f"{max(known):.0f}"
    return least if least == most else f"{least} to {most}"


def _light(one: OutingDone) -> str:
    """Write the light of the first base, and how far it had changed from a ladder's base when the last one ended."""
    base = next((ladder.base_ev for ladder in one.ladders if ladder.base_ev is not None), None)
    if base is None:
        return words.NOT_KNOWN
    last = one.ladders[-1]
    if last.light_stops is None or last.base_ev is None:
        return f"EV {base:.1f}"
    changed = last.base_ev + last.light_stops - base
    return f"EV {base:.1f}, {'steady' if abs(changed) < _STEADY_STOPS else f'{changed:+.1f}'}"


_COLUMNS: tuple[Column[_Row], ...] = (
    Column(heading="No", shows=lambda row: str(row[0]), number=True),
    Column(heading="Date", shows=lambda row: f"{row[1].begun_utc.astimezone():%Y-%m-%d}"),
    Column(heading="Outing", shows=lambda row: _what(row[1]), folds=True),
    Column(heading="Rungs", shows=lambda row: _rungs(row[1]), number=True),
    Column(heading="Frames", shows=lambda row: str(sum(one.frames for one in row[1].ladders)), number=True),
    Column(heading="Kept", shows=lambda row: kept_times(row[1].kept), folds=True),
    Column(heading="Streak", shows=lambda row: streaks(row[1].kept), number=True),
    Column(heading="Light", shows=lambda row: _light(row[1]), folds=True),
)
