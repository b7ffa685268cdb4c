"""Which times are wanted: listed ones, ranges, streak lengths, and the default steps between two ends."""

from __future__ import annotations

from dataclasses import dataclass
from math import log2

from tether.exposure.labels import time_label
from tether.exposure.marks import Mark, Step, nearest, time_marks
from tether.exposure.optics import time_for_streak_s
from tether.exposure.stops import time_stops
from tether.plan.file import SCALES, Plan, RungEntry, Taken

#: Between these exact times water changes character: the default ladder steps by one stop there, by two elsewhere,
#: and the default is three frames between 1/8 and 2 s (common practice, no source).
FINE_FROM_S, FINE_TO_S = 2.0**-4, 2.0**2
THREE_FROM_S, THREE_TO_S = 2.0**-3, 2.0**1
#: Times closer than this [stops] are one rung.
SAME_STOPS = 0.05
_SNAP_STOPS = 0.02
#: A streak is asked for as "about" so long: a mark this near to its time will do [stops].
ABOUT_STOPS = 0.25
LONGEST_MARK_S = 32.0


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """One rung as asked for, before anything is decided about it; `also` names graduated filters to be on.

    `bracket` are the frames around it [stops], and `must` says that others go first where time is short.
    """

    time: Mark
    frames: int
    taken: Taken
    also: tuple[str, ...]
    must: bool = False
    bracket: tuple[float, ...] = ()


def default_times(start_s: float, end_s: float) -> tuple[float, ...]:
    """Return the times [s] of the default ladder between two ends, both included, ascending.

    Steps of a stop between 1/15 and 4 s, two stops elsewhere; the walk lands on both ends of that stretch. A last step
    shorter than two thirds of a stop is left out.
    """
    times = [start_s]
    while times[-1] < end_s:
        here = times[-1]
        fine = FINE_FROM_S * 0.99 <= here < FINE_TO_S * 0.99
        step = here * (2 if fine else 4)
        if here < FINE_FROM_S * 0.99 and step > FINE_FROM_S:
            step = FINE_FROM_S
        elif fine and step > FINE_TO_S:
            step = FINE_TO_S
        times.append(min(step, end_s))
    if len(times) > 2 and time_stops(times[-1], times[-2]) < 2 / 3:
        del times[-2]
    return tuple(times)


def even_times(start_s: float, end_s: float, step_stops: float) -> tuple[float, ...]:
    """Return times [s] from one end to the other in even steps, both ends included."""
    steps = log2(end_s / start_s) / step_stops
    times = [start_s * 2 ** (index * step_stops) for index in range(int(steps + 1e-9) + 1)]
    return (*times, end_s) if time_stops(end_s, times[-1]) > SAME_STOPS else tuple(times)


def as_mark(exact_s: float, step: Step) -> Mark:
    """Return the mark a computed time stands for, or a mark of its own where it is none."""
    mark = nearest(time_marks(step), exact_s)
    if abs(time_stops(mark.exact, exact_s)) <= _SNAP_STOPS:
        return mark
    return Mark(label=time_label(exact_s), exact=exact_s)


def _of_range(plan: Plan, step: Step) -> list[Mark]:
    rungs = plan.rungs
    if rungs.start is None or rungs.to is None:
        return []
    start_s, end_s = rungs.start.exact, rungs.to.exact
    step_stops = rungs.step_stops
    times = even_times(start_s, end_s, step_stops) if step_stops else default_times(start_s, end_s)
    return [rungs.start, *(as_mark(time_s, step) for time_s in times[1:-1]), rungs.to]


def _streak_time(plan: Plan, streak_px: float, pitch_um: float, step: Step) -> Mark:
    if plan.water is None:
        raise ValueError("a streak length without [water] passed the check of the plan")
    time_s = time_for_streak_s(
        streak_px,
        plan.water.speed_m_s,
        distance_m=plan.water.distance_m,
        focal_mm=plan.lens.focal_mm,
        pitch_um=pitch_um,
    )
    near = nearest(time_marks(step), time_s)
    about = abs(time_stops(near.exact, time_s)) <= ABOUT_STOPS and near.exact <= LONGEST_MARK_S
    return near if about else as_mark(time_s, step)


def asks_for(plan: Plan, time: Mark) -> bool:
    """Say whether a plan's list of times or its range has a time, apart from rungs with wishes of their own."""
    times = [*plan.rungs.times, *_of_range(plan, SCALES[plan.top.scale])]
    return any(abs(time_stops(one.exact, time.exact)) <= SAME_STOPS for one in times)


def wanted_rungs(plan: Plan, pitch_um: float, step: Step) -> tuple[Wanted, ...]:
    """Return the rungs a plan asks for, ascending in time, each time once ([[rung]] entries win over lists)."""

    def of(mark: Mark, entry: RungEntry | None = None) -> Wanted:
        usual = 3 if THREE_FROM_S * 0.99 <= mark.exact <= THREE_TO_S * 1.01 else 1
        frames = (entry.frames if entry else None) or plan.rungs.frames or usual
        taken = (entry.taken if entry else None) or plan.rungs.taken
        also = plan.rungs.also if entry is None or entry.also is None else entry.also
        return Wanted(
            time=mark,
            frames=frames,
            taken=taken,
            also=tuple(also),
            must=bool(entry and entry.must),
            bracket=tuple(sorted({stops for stops in entry.bracket if stops})) if entry else (),
        )

    asked = []
    for entry in plan.rung:
        if entry.time is not None:
            asked.append(of(entry.time, entry))
        elif entry.streak_px is not None:
            asked.append(of(_streak_time(plan, entry.streak_px, pitch_um, step), entry))
    asked += [of(mark) for mark in plan.rungs.times]
    asked += [of(_streak_time(plan, px, pitch_um, step)) for px in plan.rungs.streaks_px]
    asked += [of(mark) for mark in _of_range(plan, step)]
    kept: list[Wanted] = []
    for one in asked:
        if all(abs(time_stops(one.time.exact, other.time.exact)) > SAME_STOPS for other in kept):
            kept.append(one)
    return tuple(sorted(kept, key=lambda one: one.time.exact))
