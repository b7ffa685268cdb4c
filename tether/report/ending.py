"""When a ladder ends that is begun now, against the time to leave by, in the words that desk and phone share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from tether import wording as words
from tether.journal.planned import PlannedLadder, PlannedRung
from tether.report.leave_by import left_out


def ending(ladder: PlannedLadder, now: datetime, pace: float = 1.0) -> str:
    """Say how long the ladder takes, and when it ends if it is begun now, against the time to leave by.

    A rehearsal that is faster, by `pace`, is not held against a time of day; it ends then at the earliest, since hands
    are no faster, nor is what reads frames.
    """
    if pace != 1.0:
        end = now + timedelta(seconds=ladder.forecast_s / pace)
        return f"{length(ladder)}; rehearsed now, {pace:g} times as fast, it ends at {end:%H:%M} at the earliest."
    end = now + timedelta(seconds=ladder.forecast_s)
    said = f"{length(ladder)}; begun now, it ends at {end:%H:%M}"
    leave = _leave_by(ladder.leave_by, now)
    if leave is None:
        return f"{said}."
    at = f"{leave:%H:%M}" if abs(leave - now) <= timedelta(days=1) else f"{leave:%H:%M on %Y-%m-%d}"
    spare_s = (leave - end).total_seconds()
    if spare_s >= 0:
        return f"{said}, {words.span(spare_s)} before you leave at {at}."
    late = too_late(ladder, (leave - now).total_seconds())
    what = f"{late} rung{'' if late == 1 else 's'}" if late else "what follows the rungs"
    after = f"{words.span(-spare_s)} after you leave at {at}"
    return f"! {said}, {after}: {what} would end too late and {'are' if late > 1 else 'is'} left out."


def length(ladder: PlannedLadder) -> str:
    """Say how many rungs a ladder has and how long it takes."""
    count = len(ladder.rungs)
    return f"{count} rung{'' if count == 1 else 's'}, {words.span(ladder.forecast_s)}"


def too_late(ladder: PlannedLadder, left_s: float) -> int:
    """Return how many rungs would end later than so long after the beginning [s]; what is left out takes no time."""
    must = [rung.must for rung in ladder.rungs]
    takes_s = [_takes(ladder).rung_s(rung) for rung in ladder.rungs]
    return len(left_out(takes_s, must, left_s - _before_rungs_s(ladder)))


@dataclass(frozen=True, kw_only=True)
class Takes:
    """How long things are expected to take, as the forecast of a ladder has it.

    `dark_s` is how long the body's own dark frame takes after one that is open for so long [s].
    """

    planned: PlannedLadder
    dark_s: Callable[[float], float]

    @property
    def fetch_s(self) -> float:
        """How long one frame takes to be copied [s]."""
        return float(self.planned.forecast.fetching_s / max(self.planned.frames, 1))

    def frame_s(self, open_s: float) -> float:
        """Return how long a frame takes in all [s]."""
        return open_s + self.dark_s(open_s) + self.fetch_s

    def before_s(self, rung: PlannedRung) -> float:
        """Return how long the tasks and the tests before a rung take [s]."""
        turns = self.planned.turns
        settle_s = self.planned.forecast.settling_s / max(sum(turn.kind != "cap on" for turn in turns), 1)
        tasks_s = sum(turn.takes_s + settle_s for turn in turns if turn.before_rung == rung.rung)
        return float(tasks_s + sum(self.frame_s(test.time_s) for test in rung.tests))

    def rung_s(self, rung: PlannedRung) -> float:
        """Return what a rung takes with its tasks and tests [s]."""
        return self.before_s(rung) + rung.frames * self.frame_s(rung.expected_s or rung.time_s)


def _takes(ladder: PlannedLadder) -> Takes:
    """Return how long things take where dark frames of the body are known by the forecast's sum only."""
    asked_s = sum((rung.expected_s or rung.time_s) * rung.frames for rung in ladder.rungs)
    longer = ladder.forecast.exposing_s / asked_s if asked_s else 1.0
    return Takes(planned=ladder, dark_s=lambda open_s: open_s * (longer - 1.0))


def _before_rungs_s(ladder: PlannedLadder) -> float:
    """Return how long the base frames before the first rung take [s]."""
    before, after = ladder.base_frames.before, ladder.base_frames.after
    return float(before * (ladder.forecast.base_s / max(before + after, 1) + _takes(ladder).fetch_s))


def _leave_by(text: str | None, now: datetime) -> datetime | None:
    """Return the moment of the time to leave by; a time of day is the one nearest to now, as a run takes it."""
    if not text:
        return None
    try:
        at = time.fromisoformat(text)
    except ValueError:
        moment = datetime.fromisoformat(text)
        return moment if moment.tzinfo else moment.replace(tzinfo=now.tzinfo)
    moment = datetime.combine(now.date(), at, now.tzinfo)
    if abs(moment - now) <= timedelta(hours=12):
        return moment
    return moment + timedelta(days=1 if moment < now else -1)
