"""Folds a ladder into its course over time: light as measured and as expected, corrections, rungs done and to come.

``python -m tether.report.evening OUTING`` prints that of an outing's last ladder as JSON, nothing where there is none.
It works at low priority, and a face that draws it need not load what smooths the light.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from pathlib import Path

from tether.errors import TetherError
from tether.journal.planned import PlannedLadder
from tether.journal.story import FrameStory, LadderStory, Outing
from tether.journal.telling import read_outing
from tether.light.twilight import expected_course
from tether.plan.file import Plan
from tether.plan.leaving import leave_moment
from tether.plan.light_ahead import light_ahead
from tether.plan.takes import body_dark_s
from tether.report.audit import Split, audit, middle_s, plan_of
from tether.report.ending import Takes
from tether.report.evening_told import Correction, Evening, LightPoint, Point, RungCourse

#: Of ten steps of politeness, as a system counts it.
_POLITE = 10
#: A correction that differs by less from the one before is the same one [stops] (own choice).
SAME_CORRECTION_STOPS = 0.1
#: The expected light is told at so many moments.
_MOMENTS = 60


def evening_of(outing: Outing) -> Evening | None:
    """Return the course of an outing's last ladder; None where none was begun."""
    told = outing.ladders[-1] if outing.ladders else None
    return _evening(told, running=outing.running) if told else None


def _evening(told: LadderStory, *, running: bool) -> Evening:
    frames = [frame for frame in told.frames if _span(frame)]
    base = next((frame for frame in frames if frame.kind == "base"), frames[0] if frames else None)
    begins_s = middle_s(base) if base else None
    plan = plan_of(told)
    leave_s = _leave_s(plan, begins_s)
    splits = {split.frame: split for split in audit(told)}
    read = [(frame, splits[frame.frame]) for frame in frames if frame.frame in splits and frame.as_asked]
    return Evening(
        begins_s=begins_s,
        leave_s=leave_s,
        over=not running,
        light=tuple(_light(told, frame, split) for frame, split in read),
        expected=_expected(plan, begins_s, _ends_s(told, frames, leave_s)),
        corrections=tuple(_corrections(read)),
        battery=tuple((utc.timestamp(), share) for utc, share in told.battery),
        rungs=_rungs(told, told.planned, frames, plan) if told.planned else (),
    )


def _span(frame: FrameStory) -> Point | None:
    """Return when a frame was open, from and to [s]; None where that is not known, or it was not."""
    open_s = frame.believed_open_s
    if frame.opened_utc is None or open_s is None:
        return None
    opened_s = datetime.fromisoformat(frame.opened_utc).timestamp()
    return opened_s, opened_s + open_s


def _leave_s(plan: Plan | None, begins_s: float | None) -> float | None:
    if plan is None or begins_s is None:
        return None
    leave = leave_moment(plan.leave_by, datetime.fromtimestamp(begins_s, UTC))
    return leave.timestamp() if leave else None


def _ends_s(told: LadderStory, frames: Sequence[FrameStory], leave_s: float | None) -> float:
    """Return how far the expected light is told: to the end of the ladder as forecast, and until the person leaves."""
    spans = [span for frame in frames if (span := _span(frame))]
    forecast_s = told.planned.forecast_s if told.planned else 0.0
    ends = [end for _, end in spans] + ([spans[0][0] + forecast_s] if spans else [])
    return max([*ends, leave_s or 0.0])


def _light(told: LadderStory, frame: FrameStory, split: Split) -> LightPoint:
    always_on = {one.name for one in told.planned.base.filters} if told.planned else set()
    return LightPoint(
        frame=frame.frame,
        at_s=middle_s(frame) or 0.0,
        stops=split.light_stops,
        doubt_stops=split.uncertainty_stops,
        bare=set(frame.filters) <= always_on,
    )


def _expected(plan: Plan | None, begins_s: float | None, ends_s: float) -> tuple[Point, ...]:
    """Return the light to be expected from the beginning on, as far as it is known."""
    if plan is None or begins_s is None:
        return ()
    begins = datetime.fromtimestamp(begins_s, UTC)
    ahead = light_ahead(plan, begins)
    lasts_s = ends_s - begins_s
    if ahead is None or lasts_s <= 0:
        return ()
    if plan.place.spot is not None:
        course = expected_course(plan.place.spot, begins, begins + timedelta(seconds=lasts_s))
        lasts_s = min(lasts_s, course.points[-1][0]) if course else lasts_s
    after_s = (lasts_s * step / _MOMENTS for step in range(_MOMENTS + 1))
    return tuple((begins_s + one_s, ahead(one_s)) for one_s in after_s)


def _corrections(read: Sequence[tuple[FrameStory, Split]]) -> Iterator[Correction]:
    """Yield each correction from the first frame that was made with it on."""
    last = 0.0
    for frame, split in read:
        if frame.kind != "rung" or frame.rung is None or abs(split.changed_stops - last) < SAME_CORRECTION_STOPS:
            continue
        last = split.changed_stops
        yield Correction(rung=frame.rung, at_s=middle_s(frame) or 0.0, stops=last)


# Rungs


def _rungs(
    told: LadderStory, planned: PlannedLadder, frames: Sequence[FrameStory], plan: Plan | None
) -> tuple[RungCourse, ...]:
    takes = Takes(planned=planned, dark_s=lambda open_s: body_dark_s(plan, open_s) if plan else 0.0)
    ended = {rung.rung: rung.outcome for rung in told.rungs}
    return tuple(
        RungCourse(
            rung=rung.rung,
            label=rung.name,
            tasks=tuple(turn.what for turn in planned.turns if turn.before_rung == rung.rung),
            spans=tuple(span for one in frames if (one.rung, one.kind) == (rung.rung, "rung") and (span := _span(one))),
            outcome=ended.get(rung.rung),
            waits_s=takes.before_s(rung),
            frames=rung.frames,
            frame_s=takes.frame_s(rung.time_s if rung.expected_s is None else rung.expected_s),
        )
        for rung in planned.rungs
    )


if __name__ == "__main__":
    os.nice(_POLITE)
    try:
        found = evening_of(read_outing(Path(sys.argv[1])))
        sys.stdout.write(json.dumps(asdict(found)) if found else "")
    except TetherError as error:
        sys.exit(str(error))
