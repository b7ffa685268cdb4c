"""When a ladder ends that is begun now, against the time to leave by, in the words that desk and phone share."""

from __future__ import annotations

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
    return len(left_out(_rungs_take_s(ladder), must, left_s - _before_rungs_s(ladder)))


def _fetch_s(ladder: PlannedLadder) -> float:
    """Return how long one frame takes to be brought home [s]."""
    return float(ladder.forecast.fetching_s / max(ladder.frames, 1))


def _before_rungs_s(ladder: PlannedLadder) -> float:
    """Return how long the base frames before the first rung take [s]."""
    before, after = ladder.base_frames.before, ladder.base_frames.after
    return float(before * (ladder.forecast.base_s / max(before + after, 1) + _fetch_s(ladder)))


def _rungs_take_s(ladder: PlannedLadder) -> tuple[float, ...]:
    """Return what each rung takes with its tasks and test exposures [s]: its share of what the forecast has."""
    rungs, turns, forecast = ladder.rungs, ladder.turns, ladder.forecast
    asked_s = sum((rung.expected_s or rung.time_s) * rung.frames for rung in rungs)
    fetch_s = _fetch_s(ladder)
    longer = forecast.exposing_s / asked_s if asked_s else 1.0  # by the dark frames that the body takes itself
    settle_s = forecast.settling_s / max(sum(turn.kind != "cap on" for turn in turns), 1)

    def takes_s(rung: PlannedRung) -> float:
        before = [turn for turn in turns if turn.before_rung == rung.rung]
        tests_s = sum(one.time_s * longer + fetch_s for one in rung.tests)
        exposing_s = rung.frames * ((rung.expected_s or rung.time_s) * longer + fetch_s)
        return float(sum(turn.takes_s + settle_s for turn in before) + tests_s + exposing_s)

    return tuple(takes_s(rung) for rung in rungs)


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
