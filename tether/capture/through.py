"""The base exposure found through filters that stay on the lens: found as it is, and told as it is without them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import exp2, log2

from tether.capture.base_search import Looked, find_base
from tether.capture.session import CaptureSession
from tether.errors import CameraError
from tether.exposure.filters import Filter, stack_stops
from tether.exposure.marks import Mark, nearest
from tether.plan.file import Plan
from tether.shot.shot import Shot

#: A search that begins with longer frames is not begun: several of them are taken, and the light goes on changing [s].
LONGEST_S = 8.0


@dataclass(frozen=True, kw_only=True)
class BaseThrough:
    """A base exposure without filters, and its headroom less what the filters are not known to [stops]."""

    shot: Shot
    headroom_stops: float


def find_base_through(
    session: CaptureSession, plan: Plan, fitted: Sequence[Filter], tell: Callable[[Looked], None]
) -> BaseThrough:
    """Find the base exposure while filters are on the lens.

    Parameters
    ----------
    session
        The camera.
    plan
        Its base is what the search begins with, longer by what the filters take.
    fitted
        What is on the lens beside what is always on.
    tell
        Handed every frame once it is read.

    Raises
    ------
    CameraError
        They are too dark for that, or no base can be found.
    TetherError
        The camera does not do it.
    """
    stops = stack_stops(fitted)
    start = longer(session.abilities.times, plan.base.time, stops)
    if start is None:
        names = " + ".join(one.name for one in fitted)
        raise CameraError(f"{names} is too dark for the base to be looked for through it: take it off, and begin anew.")
    found = find_base(session, plan, start=start, tell=tell)
    return without(found.shot, found.headroom_stops, fitted, session.abilities.times)


def longer(times: Sequence[Mark], time: Mark, stops: float) -> Mark | None:
    """Return the body's time nearest to one that is longer by so many stops; None where that is too long."""
    exact_s = time.exact * exp2(stops)
    return nearest(times, exact_s) if exact_s <= LONGEST_S else None


def without(shot: Shot, headroom_stops: float, fitted: Sequence[Filter], times: Sequence[Mark]) -> BaseThrough:
    """Return what an exposure through filters is without them: of the body's times the next that is no brighter."""
    exact_s = shot.time_s / exp2(stack_stops(fitted))
    darker = [mark for mark in times if mark.exact <= exact_s * 1.01]
    time = max(darker or times[:1], key=lambda mark: mark.exact)
    unsure = sum(one.spread_stops for one in fitted)
    room = headroom_stops + log2(exact_s / time.exact) - unsure
    return BaseThrough(shot=replace(shot, time_s=time.exact, time_label=time.label), headroom_stops=max(room, 0.0))
