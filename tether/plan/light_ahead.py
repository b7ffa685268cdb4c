"""The light to be expected over a ladder, and how long its bulb exposures stay open for it.

By the place, from the course of the sun; by the plan's own rate ([light]); by both, the rate is what it is at the
beginning and the sun tells how that goes on. Where the plan corrects by what frames say, bulb exposures are expected to
be made as bright as promised in it: they count so much longer in the forecast.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from math import exp2, log2
from statistics import fmean
from typing import TYPE_CHECKING

from tether.exposure.abilities import Abilities
from tether.journal.planned import PlannedTurn
from tether.plan.aiming import Aiming
from tether.plan.base import base_wanted
from tether.plan.choices import make_space
from tether.plan.file import Plan
from tether.plan.ladder import BaseFrames, Choice, Rung
from tether.plan.proof import proof_of
from tether.plan.takes import opens_at_s
from tether.plan.words import in_stops
from tether.wording import span, which_rungs

if TYPE_CHECKING:
    from tether.light.state import LightState

#: The light to be expected, so many seconds after a beginning, against the light then [stops].
Stops = Callable[[float], float]

#: How long the sun's course is looked ahead.
AHEAD = timedelta(hours=10)
#: From so much on in all it is said that bulb exposures are expected to be longer or shorter than planned [s].
SAID_FROM_S = 10.0
#: What glass may take beside what it says, for a mean over it [stops] (own choice).
GLASS_STOPS = (-0.3, -0.1, 0.1, 0.3)
#: The mean over an opening is taken at so many moments.
_PLACES = 9


def mean_stops(light: Stops, opens_s: float, open_s: float) -> float:
    """Return the light's mean over an opening [stops]."""
    steps = [(place + 0.5) / _PLACES for place in range(_PLACES)]
    return log2(sum(exp2(light(opens_s + step * open_s)) for step in steps) / _PLACES)


def light_ahead(plan: Plan, begins: datetime | None) -> Stops | None:
    """Return the light to be expected from a moment on; None where the plan tells nothing of it.

    The moment counts only where the plan says where it is; None: not known, then its own rate alone counts.
    """
    sun = by_the_sun(plan, begins)
    rate = rises_beside_stops_per_minute(plan, sun)
    if sun is None and not rate:
        return None
    return lambda after_s: (sun(after_s) if sun else 0.0) + rate * after_s / 60


def rises_beside_stops_per_minute(plan: Plan, sun: Stops | None) -> float:
    """Return how fast the light rises by the plan's word, beside what the sun does at the beginning [stops/min]."""
    light = plan.light
    if light.trend == "steady":
        return 0.0
    rises = light.stops_per_min if light.trend == "rising" else -light.stops_per_min
    return rises - (sun(60.0) if sun else 0.0)


def light_at_base(plan: Plan, at: datetime, at_s: float) -> LightState:
    """Return what is known of the light at the base, by the time of day and by the clock that is counted by [s].

    That is what place and plan tell of its course, which frames then correct.
    """
    from tether.light.state import LightState  # it loads what only a run with base frames needs

    sun = by_the_sun(plan, at)
    rises = rises_beside_stops_per_minute(plan, sun)
    if sun is None:
        return LightState.at_base(at_s, rises_stops_per_minute=rises)
    return LightState.at_base(at_s, rises_stops_per_minute=rises, expected=lambda moment_s: sun(moment_s - at_s))


def by_the_sun(plan: Plan, begins: datetime | None) -> Stops | None:
    """Return the light by the sun so many seconds after a moment [stops against it]; None: nothing is known of it.

    Beyond what is known it stays as it was last.
    """
    spot = plan.place.spot
    if spot is None or begins is None:
        return None
    from tether.light.twilight import expected_course  # it loads what only a plan with a place needs

    course = expected_course(spot, begins, begins + AHEAD)
    if course is None:
        return None
    last_s, last_stops = course.points[-1]

    def stops_at(after_s: float) -> float:
        stops = course.stops_at(min(max(after_s, 0.0), last_s))
        return last_stops if stops is None else stops

    return stops_at


def with_expected(
    plan: Plan,
    abilities: Abilities,
    rungs: Sequence[Rung],
    turns: Sequence[PlannedTurn],
    base: BaseFrames,
    light: Stops | None,
) -> tuple[Rung, ...]:
    """Return the rungs with how long their bulb exposures are expected to be open, where they are made to follow it."""
    if light is None or plan.readings.correct != "take" or not base_wanted(plan):
        return tuple(rungs)
    found: list[Rung] = []
    known = {plan.base.iso.exact}
    for rung in rungs:
        known |= {one.iso.exact for one in rung.bare} | (set() if rung.fitted else {rung.choice.iso.exact})
        if rung.choice.way == "held":
            *_, opens_s = opens_at_s(plan, abilities, [*found, rung], turns, base)
            rung = _with_expected(plan, abilities, rung, opens_s, light, known)
        found.append(rung)
    return tuple(found)


def _with_expected(
    plan: Plan, abilities: Abilities, rung: Rung, opens_s: float, light: Stops, known: set[float]
) -> Rung:
    """Return a bulb rung with how long its frames and its test are open in the mean [s], the first opening then.

    What its glass really takes is not known: in the mean over what it may.
    """
    space = make_space(plan, abilities, (rung.choice.stack,))

    def made(glass_stops: float) -> Choice:
        def wanted_stops(choice: Choice) -> float:
            waits_s = (rung.frames - 1) / 2 * (choice.time_s + (abilities.fetch_s or 0.0))
            return glass_stops - mean_stops(light, opens_s + waits_s, choice.time_s)

        at_most = plan.readings.correct_at_most_stops
        aiming = Aiming(
            space=space, choice=rung.choice, wanted_stops=wanted_stops, at_most_stops=at_most, known_isos=known
        )
        return aiming.aim().choice

    choices = [made(stops) for stops in GLASS_STOPS]
    tests = [proof_of(plan, abilities, one) for one in choices] if rung.proof else []
    tests_s = [one.time_s for one in tests if one]
    return replace(
        rung,
        expected_s=fmean(one.time_s for one in choices),
        expected_test_s=fmean(tests_s) if tests_s else None,
    )


def said_of(plan: Plan, rungs: Sequence[Rung], light: Stops | None, begins: datetime | None) -> list[str]:
    """Say which bulb exposures the forecast counts longer or shorter than planned, by how much in all, and why."""
    changed = [one for one in rungs if one.expected_s is not None]
    more_s = sum(one.frames * ((one.expected_s or 0.0) - one.choice.time_s) for one in changed)
    if light is None or abs(more_s) < SAID_FROM_S:
        return []
    numbers = [one.number for one in changed if abs((one.expected_s or 0.0) - one.choice.time_s) >= 1]
    which = f"Bulb {which_rungs(numbers)} count{'s' if len(numbers) == 1 else ''}"
    by = f"{span(abs(more_s))} {'longer' if more_s > 0 else 'shorter'} in the forecast"
    why = f"the light is expected to {'fall' if more_s > 0 else 'rise'} meanwhile, {_by_what(plan, begins)}"
    return [f"{which} {by}: {why}."]


def _by_what(plan: Plan, begins: datetime | None) -> str:
    light = plan.light
    rate = f"by {in_stops(light.stops_per_min)} a minute as the plan says" if light.trend != "steady" else ""
    sun = f"by the sun, begun at {begins.astimezone():%H:%M}" if plan.place.spot and begins else ""
    return " and ".join(filter(None, (rate, sun)))
