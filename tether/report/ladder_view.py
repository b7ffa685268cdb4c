"""A planned ladder for the terminal, from the records that `tether ladder --json` gives."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderableType
from rich.text import Text

from tether import wording as words
from tether.journal.planned import PlannedBase, PlannedBody, PlannedLadder, PlannedRung
from tether.report.layout import Column, heading, listing, table


@dataclass(frozen=True)
class LadderView:
    """What `tether ladder` prints; a rich renderable that fits itself to the width at hand, from 80 characters up.

    Parameters
    ----------
    planned
        The ladder as data.
    why
        Whether each rung's reason is shown, with what it costs and the next best way.
    others
        Whether other ways are shown.
    """

    planned: PlannedLadder
    why: bool = False
    others: bool = True

    def __rich_console__(self, _console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        planned = self.planned
        rungs = planned.rungs
        yield Text(planned.plan, style="bold")
        yield Text(f"Body: {_body(planned.body)}")
        yield Text(f"Base: {_base(planned.base)}")
        yield Text()
        yield table(_COLUMNS, rungs, options.max_width)
        yield Text(_legend(rungs))
        yield from (Text(sentence) for sentence in _times(rungs))
        if self.why:
            yield from listing("Why", [(f"rung {rung.rung}", _why(rung)) for rung in rungs])
            yield Text(_COSTS)
        if self.others:
            yield from listing("Other ways", [line for rung in rungs for line in _others(rung)])
        turns = [(words.before(turn.before_rung), f"{turn.what} ({turn.reason})") for turn in planned.turns]
        yield from listing("Turns", turns)
        yield from listing("Out of reach", [("·", one.sentence) for one in planned.unreached])
        yield from listing("To know", [("·", note) for note in planned.notes])
        yield from listing("Take care", [("·", caution) for caution in planned.cautions])
        yield heading(_forecast(planned))
        if planned.learned:
            yield from map(Text, (*planned.learned, _LEAVE_OUT))
        if planned.leave_by:
            yield Text(_leave_by(planned))


_FORECAST = {
    "exposing_s": "exposing",
    "proofs_s": "test exposures",
    "changes_s": "filters and other tasks",
    "settling_s": "settling",
    "fetching_s": "copying",
    "darks_s": "dark frames",
    "base_s": "base frames",
}


def _forecast(planned: PlannedLadder) -> str:
    took_s = vars(planned.forecast)
    worth = [f"{name} {words.span(took_s[key])}" for key, name in _FORECAST.items() if took_s[key] >= 0.5]
    on_key = any(rung.taken != "at once" and rung.taken != "burst" for rung in planned.rungs)
    waiting = "; your own waiting for the moment comes on top" if on_key else ""
    return f"Forecast: {words.span(planned.forecast_s)} in all ({', '.join(worth)}){waiting}."


#: How what was learned is left out of a forecast.
_LEAVE_OUT = 'Without these: "learned = false" under [run], or: tether outings --forget'


def _leave_by(planned: PlannedLadder) -> str:
    """Say what comes of the time to leave by, and which rungs keep the time that they need."""
    must = ", ".join(str(rung.rung) for rung in planned.rungs if rung.must)
    kept = f" Where time is short, others are left out before these: rung {must}." if must else ""
    return f"Leave by {planned.leave_by}: no rung is started that would end later.{kept}"


def _legend(rungs: Sequence[PlannedRung]) -> str:
    """Say what the numbers mean, and how much is darkened for safety, which a narrow table has no room for."""
    legend = "ND: stops of filter. Off: stops brighter (+) or darker (-) than wanted."
    own = [rung for rung in rungs if rung.bracket_stops is None]
    darker = [rung.darker_by_stops for rung in own if rung.darker_by_stops >= 0.05]
    if not darker:
        return legend
    least, most = words.count(min(darker)), words.count(max(darker))
    span = least if least == most else f"{least} to {most}"
    return f"{legend} {len(darker)} of {len(own)} rungs are wanted {span} stops darker than the base (darker_by)."


def _times(rungs: Sequence[PlannedRung]) -> Iterator[str]:
    """Say what times are beside the names of rungs: how long the shutter is to be open, and what a mark is exactly."""
    others = [f"rung {rung.rung} for {rung.opens}" for rung in rungs if rung.opens != rung.name]
    if others:
        yield f"Time: the name of the rung. Planned to be open longer or shorter: {', '.join(others)}."
    for rung in rungs:
        if rung.bare:
            bare = f"{len(rung.bare)} without its filters, for each ISO's own step"
            yield f"Tests before rung {rung.rung}: {bare}, then {len(rung.tests) - len(rung.bare)} through them."
    exact = words.exact_mark([rung.time_s for rung in rungs if rung.way != "held"])
    if exact:
        yield exact


#: What the numbers under "Why" are.
_COSTS = (
    "Costs are stops of light lost at the detail that matters in a print, beside the base. Touches: what putting a"
    " filter on or taking one off is counted as; with a minus, what the changes cost that are saved."
)


def _why(rung: PlannedRung) -> str:
    reason = rung.reason
    return f"{reason[:1].upper()}{reason[1:]}. {rung.costs}" if rung.costs else reason


def _body(body: PlannedBody) -> str:
    if body.simulated:
        return f"{body.name} (simulated: no camera)"
    return f"{body.name} ({body.tried or 'not tried on hardware'})"


def _base(base: PlannedBase) -> str:
    at = f"{words.planned_time(base.time_s)}, {words.aperture(base.aperture)}, ISO {words.iso(base.iso)}"
    always_on = [one.name for one in base.filters]
    return f"{at}, always through {words.filters(always_on)}" if always_on else at


def _others(rung: PlannedRung) -> Iterator[tuple[str, str]]:
    for other in rung.others:
        yield f"rung {rung.rung}", f"{other.words} ({more_or_less(other.price_more)})"


def more_or_less(stops: float) -> str:
    """Say how much more another way costs than the one chosen."""
    shown = words.count(abs(stops))
    return f"{shown} stop{'s' if abs(stops) >= 1.05 else ''} {'more' if stops >= 0 else 'less'}"


def _frames(rung: PlannedRung) -> str:
    """Write how many frames a rung has, and what they are."""
    around = rung.bracket_stops
    tests = len(rung.tests)
    proof = f" + {tests} tests" if tests > 1 else " + test" if tests else ""
    beside = [f"{around:+.3g} stop{'' if abs(around) == 1 else 's'}"] if around is not None else []
    must = ["must"] if rung.must else []
    return ", ".join((f"{rung.frames}{proof}", *beside, *must))


_COLUMNS: tuple[Column[PlannedRung], ...] = (
    Column(heading="Rung", shows=lambda rung: str(rung.rung), number=True),
    Column(heading="Time", shows=lambda rung: rung.name, number=True),
    Column(heading="f/", shows=lambda rung: words.aperture(rung.aperture).removeprefix("f/"), number=True),
    Column(heading="ISO", shows=lambda rung: words.iso(rung.iso), number=True),
    Column(heading="Filters", shows=lambda rung: words.filters(rung.filters), folds=True),
    Column(heading="ND", shows=lambda rung: words.count(rung.filter_stops), number=True),
    Column(heading="Way", shows=lambda rung: words.way(rung.way)),
    Column(heading="Frames", shows=_frames),
    Column(heading="Darker by", shows=lambda rung: words.count(rung.darker_by_stops), number=True, only="wide"),
    Column(heading="Off", shows=lambda rung: words.stops(rung.error_stops), number=True),
)
