"""How long things really took on a camera, read out of an outing's journal: cases for `tether.plan.learned`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from tether.errors import PlanError
from tether.exposure.filters import Filter
from tether.journal.codec import Entry
from tether.journal.planned import PlannedLadder
from tether.journal.records import (
    ANSWERED,
    FetchIntent,
    FetchOutcome,
    LadderEnded,
    LadderStarted,
    Record,
    RunStarted,
    Steered,
    SuppliesSeen,
    Turn,
)
from tether.plan.file import ON_KEY, plan_from_text
from tether.plan.learned import Case, What, forecast_of, touch_of
from tether.plan.path import pieces_touched

#: A battery is watched for so long at the least: bodies tell its share in steps (own choice) [s].
LEAST_BATTERY_S = 1200.0
#: A ladder that was steered so was not worked as forecast.
_NOT_AS_FORECAST = ("pause", "skip", "next", "again")

Stack = tuple[Filter, ...]


def cases_of(entries: Iterable[Entry], mark: str) -> tuple[Case, ...]:
    """Return what an outing tells; nothing of runs on a simulated body.

    Parameters
    ----------
    entries
        The outing's records, oldest first.
    mark
        What the outing is known by.
    """
    learning = _Learning(mark)
    for entry in entries:
        learning.hear(entry.record, entry.mono_ns / 1e9)
    return learning.told()


@dataclass
class _Worked:
    """A ladder that is worked: as planned, its filters, whether fingers were cold, and what is on the lens.

    `begun_s` is when it was begun, None where it can't be held against its forecast.
    """

    planned: PlannedLadder
    filters: dict[str, Filter]
    cold: bool
    begun_s: float | None
    lens: Stack = ()


@dataclass
class _Learning:
    """What was heard so far; moments are of the run's clock [s], which is one clock within a run."""

    mark: str
    cases: list[Case] = field(default_factory=list)
    real: bool = False
    body: str = ""
    ladders: dict[int, _Worked] = field(default_factory=dict)
    asked: dict[tuple[int | None, str], float] = field(default_factory=dict)
    coming: dict[str, float] = field(default_factory=dict)
    arrived: list[FetchOutcome] = field(default_factory=list)
    copied_s: dict[int, float] = field(default_factory=dict)
    battery: list[tuple[float, float]] = field(default_factory=list)

    def hear(self, record: Record, at_s: float) -> None:
        """Take in one record."""
        if isinstance(record, RunStarted):
            self._begin_run(record)
        if not self.real:
            return
        match record:
            case LadderStarted():
                self._ladder(record, at_s)
            case Turn():
                self._turn(record, at_s)
            case FetchIntent():
                self.coming[record.name] = at_s
            case FetchOutcome():
                self._fetched(record, at_s)
            case SuppliesSeen(battery=float() as share):
                self._battery(share, at_s)
            case Steered() if record.verb in _NOT_AS_FORECAST:
                self._not_as_forecast()
            case LadderEnded():
                self._ended(record, at_s)

    def told(self) -> tuple[Case, ...]:
        """Return all cases."""
        self._close_run()
        return tuple(self.cases)

    def _case(self, what: What, of: str, value: float) -> None:
        self.cases.append(Case(outing=self.mark, what=what, of=of, value=value))

    def _begin_run(self, record: RunStarted) -> None:
        self._close_run()
        self.real = not (record.simulated or record.camera.simulated)
        self._not_as_forecast()
        self.asked.clear()
        self.coming.clear()
        self.arrived.clear()

    def _close_run(self) -> None:
        for seconds in self.copied_s.values():
            self._case("copying", self.body, seconds)
        self.copied_s.clear()
        self._close_battery()

    # Ladders

    def _ladder(self, record: LadderStarted, at_s: float) -> None:
        try:
            plan = plan_from_text(record.plan_text)
            filters, cold = {one.name: one for one in plan.filters}, plan.place.cold
        except PlanError:  # of an earlier release
            filters, cold = {}, False
        self.body = record.planned.body.name
        on_key = any(rung.taken in ON_KEY for rung in record.planned.rungs)
        self.ladders[record.ladder] = _Worked(record.planned, filters, cold, None if on_key else at_s)

    def _not_as_forecast(self) -> None:
        for ladder in self.ladders.values():
            ladder.begun_s = None

    def _ended(self, record: LadderEnded, at_s: float) -> None:
        ladder = self.ladders.get(record.ladder)
        if ladder is not None and record.outcome == "done":
            self._took(ladder, at_s)
        self._not_as_forecast()

    def _took(self, ladder: _Worked, at_s: float) -> None:
        """Hold a ladder against its forecast, once."""
        if ladder.begun_s is not None and ladder.planned.forecast_s > 0:
            of = forecast_of(self.body, as_learned=bool(ladder.planned.learned))
            self._case("forecast", of, (at_s - ladder.begun_s) / ladder.planned.forecast_s)
        ladder.begun_s = None

    # Tasks

    def _turn(self, record: Turn, at_s: float) -> None:
        ladder, key = self.ladders.get(record.ladder), (record.rung, record.what)
        if ladder is None:
            return
        if record.state == "asked":
            self.asked[key] = at_s
            offers = {one.what for one in ladder.planned.turns if one.kind == "cap on"}
            if ladder.planned.forecast.offered_s and record.what in offers:
                self._took(ladder, at_s)  # it is over but for dark frames that are offered, which no forecast counts
            return
        asked_s = self.asked.pop(key, None)
        if record.fitted is None or record.state not in (*ANSWERED, "taken back"):
            return
        after = tuple(ladder.filters[name] for name in record.fitted if name in ladder.filters)
        if record.state == "answered" and asked_s is not None and len(after) == len(record.fitted):
            self._changed(ladder, after, at_s - asked_s)
        ladder.lens = after

    def _changed(self, ladder: _Worked, after: Stack, took_s: float) -> None:
        """Keep how long a piece took, where all that was touched was touched alike."""
        touches = [touch for _, touch in pieces_touched(ladder.lens, after)]
        if len(set(touches)) == 1:
            self._case("filter change", touch_of(touches[0], cold=ladder.cold), took_s / len(touches))

    # Files

    def _fetched(self, record: FetchOutcome, at_s: float) -> None:
        """Take in a file that is home. Several may be on their way at a time: they share the time it took."""
        if record.card_name not in self.coming:
            return
        self.arrived.append(record)
        if len(self.arrived) < len(self.coming):
            return
        each_s = (at_s - min(self.coming.values())) / len(self.arrived)
        for one in self.arrived:
            if one.frame is not None and one.name is not None:
                self.copied_s[one.frame] = self.copied_s.get(one.frame, 0.0) + each_s
        self.coming.clear()
        self.arrived.clear()

    # Battery

    def _battery(self, share: float, at_s: float) -> None:
        if self.battery and share > self.battery[-1][1]:
            self._close_battery()  # another one is in
        self.battery.append((at_s, share))

    def _close_battery(self) -> None:
        if self.battery:
            (from_s, full), (until_s, left) = self.battery[0], self.battery[-1]
            if until_s - from_s >= LEAST_BATTERY_S:
                self._case("battery", self.body, (full - left) * 3600 / (until_s - from_s))
        self.battery.clear()
