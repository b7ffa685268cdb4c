"""The person's own time to leave: nothing is started that would end later."""

from __future__ import annotations

from datetime import datetime, timedelta

from tether.engine.run_state import Run
from tether.plan import takes
from tether.plan.ladder import Rung
from tether.plan.leaving import leave_moment

#: How long before the time to leave it is spoken of [s].
WARNED_AT_S = (1800.0, 900.0)


def frame_takes_s(run: Run, time_s: float) -> float:
    """Return how long a frame takes in all [s], see :func:`tether.plan.takes.frame_takes_s`."""
    return takes.frame_takes_s(run.plan, run.abilities, time_s)


def rung_takes_s(run: Run, rung: Rung, frames: int) -> float:
    """Return how long so many frames of a rung and its test exposures take [s]."""
    tests_s = sum(frame_takes_s(run, time_s) for time_s in rung.tests_s)
    return frames * frame_takes_s(run, rung.open_s) + tests_s


def too_late(run: Run, takes_s: float) -> str | None:
    """Return why something is not started any more: it would end after the person wants to leave; else None."""
    leave, ends = _leaves(run), run.clock.utc() + timedelta(seconds=takes_s)
    if leave is None or ends <= leave:
        return None
    whose = "the last safe exit" if run.plan.tide_decides else "leave_by"
    return f"it would end at {ends.astimezone():%H:%M:%S}, after {whose} {leave.astimezone():%H:%M}"


def _leaves(run: Run) -> datetime | None:
    return leave_moment(run.plan.leave_by, run.clock.utc())


def left_s(run: Run) -> float | None:
    """Return the time until the person wants to leave [s]; None: they have not said."""
    leave = _leaves(run)
    return None if leave is None else (leave - run.clock.utc()).total_seconds()


def warn_of_leaving(run: Run) -> None:
    """Say, once at each of :data:`WARNED_AT_S`, how long there is until the person wants to leave."""
    left, leave = left_s(run), _leaves(run)
    passed = [at_s for at_s in WARNED_AT_S if left is not None and 0 < left <= at_s < run.hand.leaving_told_s]
    if not passed or left is None or leave is None:
        return
    run.hand.leaving_told_s = min(passed)
    why = "the last safe exit" if run.plan.tide_decides else "when you want to leave"
    said = f"{left / 60:.0f} min until {leave.astimezone():%H:%M}, {why}"
    run.say("note", f"{said}: no frame is begun that would end later.")


def crowded_out(run: Run, takes_s: float, kept_s: float) -> str | None:
    """Return why something is left out: rungs still to come that must be had need the time; else None."""
    left = left_s(run)
    if not kept_s or left is None or takes_s + kept_s <= left:
        return None
    return f"must-have rungs still need {kept_s / 60:.0f} min of the {left / 60:.0f} min left"
