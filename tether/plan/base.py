"""The base frames of a ladder: whether they are of use, and by which marks of the body they are taken."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from tether.exposure.abilities import Abilities
from tether.exposure.labels import with_unit
from tether.exposure.marks import Mark, nearest
from tether.exposure.stops import iso_stops
from tether.plan.file import Plan
from tether.plan.ladder import BaseFrames, Rung
from tether.plan.paying import EXTENDED_STOPS

#: Two values that differ by less than this share are one mark of a scale.
_SAME_MARK = 0.02
#: Taking filters off for the one more at the end is expected to take so long [s].
TAKE_OFF_S = 30.0


def base_wanted(plan: Plan) -> bool:
    """Say whether base frames are of use: they are read by regions, or not at all."""
    return plan.base.frames > 0 and (bool(plan.region) or plan.readings.regions != "none")


def with_own_iso(plan: Plan, abilities: Abilities) -> tuple[Plan, tuple[str, ...]]:
    """Return the plan with its base at an ISO of the body's own, and a sentence where that is another.

    An extended value, below the lowest of them, has the gain of that one: by the same time and aperture the raw file is
    the same, while frames at other values are as far from it as they are from that one.
    """
    iso = plan.base.iso
    if iso_stops(abilities.base_iso, iso.exact) <= EXTENDED_STOPS:
        return plan, ()
    own = nearest(abilities.isos, abilities.base_iso)
    said = (
        f"The base's ISO {iso.label} is an extended one on this body: its raw file is as bright as at ISO {own.label},"
        f" and clips as soon. So the base is taken at ISO {own.label}, its time and aperture as they are."
    )
    return replace(plan, base=plan.base.model_copy(update={"iso": own})), (said,)


def base_marks(plan: Plan, abilities: Abilities) -> tuple[Mark, Mark, Mark] | None:
    """Return the body's own time, aperture and ISO for the base exposure; None where it has not all of them."""
    time, aperture, iso = (mark_of(marks, one.exact) for marks, one in _wanted(plan, abilities))
    return None if time is None or aperture is None or iso is None else (time, aperture, iso)


def base_unkept(plan: Plan, abilities: Abilities) -> str | None:
    """Say what of the base exposure the body has not, and the nearest that it has; None where it has all."""
    saids: tuple[Callable[[str], str], ...] = (with_unit, str, "ISO {}".format)
    lacks = []
    for said, (marks, one) in zip(saids, _wanted(plan, abilities), strict=True):
        if mark_of(marks, one.exact) is None:
            near = f", the nearest is {said(nearest(marks, one.exact).label)}" if marks else ""
            lacks.append(f"no {said(one.label)} of its own{near}")
    return f"{abilities.name} has {'; '.join(lacks)}" if lacks else None


def _wanted(plan: Plan, abilities: Abilities) -> tuple[tuple[tuple[Mark, ...], Mark], ...]:
    """Return the body's marks for time, aperture and ISO, each with what the base asks for."""
    return (
        (abilities.times, plan.base.time),
        (abilities.apertures, plan.base.aperture),
        (abilities.isos, plan.base.iso),
    )


def mark_of(marks: tuple[Mark, ...], exact: float) -> Mark | None:
    """Return the mark of a scale that a value is; None where it is none of them."""
    return next((mark for mark in marks if abs(mark.exact / exact - 1) < _SAME_MARK), None)


def base_frames(plan: Plan, abilities: Abilities, rungs: tuple[Rung, ...]) -> BaseFrames:
    """Return the base frames that a ladder of these rungs makes."""
    marks = base_marks(plan, abilities)
    if marks is None or not base_wanted(plan):
        return BaseFrames(time_s=plan.base.time.exact, before=0, after=0, take_off_s=0.0)
    after = int(plan.base.again)
    pieces = len(rungs[-1].fitted) if after and rungs else 0
    off_s = plan.learned.off_s
    # As learned for each piece, else as expected for all of them.
    take_off_s = TAKE_OFF_S if off_s is None else off_s.value * pieces
    return BaseFrames(
        time_s=marks[0].exact,
        before=plan.base.frames,
        after=after,
        take_off_s=take_off_s if pieces else 0.0,
    )
