"""Solve the rest of a rung again: the body took another value, or the person asked for more or less light."""

from __future__ import annotations

from dataclasses import replace

from tether.exposure.abilities import Abilities
from tether.exposure.marks import Mark
from tether.exposure.stops import aperture_stops, iso_stops
from tether.plan.choices import best_many, best_single, make_space
from tether.plan.file import Plan
from tether.plan.ladder import Choice

#: Two numbers closer than this are the same setting [stops].
SAME_SETTING_STOPS = 0.03


def solve_again(
    plan: Plan,
    abilities: Abilities,
    choice: Choice,
    wanted: Mark,
    *,
    brighter_by_stops: float = 0.0,
    aperture: float | None = None,
    iso: float | None = None,
) -> Choice | None:
    """Return the best choice with the filters that are on, or None where the limits leave none.

    Parameters
    ----------
    choice
        What was to be made; its filters stay, its way (one exposure or many) too.
    wanted
        The time asked for.
    brighter_by_stops
        How much brighter than planned the rung is wanted [stops].
    aperture, iso
        What the body took and will not change; None: free. The aperture of a frame in a bracket stays in any case.
    """
    if choice.bracket_stops is not None and aperture is None:
        aperture = choice.aperture.exact
    rule = choice.darker_by_stops - brighter_by_stops
    top = plan.top.model_copy(update={"darker_by": rule})
    space = make_space(replace(plan, top=top), abilities, (choice.stack,))
    pairs = tuple(
        pair
        for pair in space.pairs
        if (aperture is None or abs(aperture_stops(pair.aperture.exact, aperture)) <= SAME_SETTING_STOPS)
        and (iso is None or abs(iso_stops(pair.iso.exact, iso)) <= SAME_SETTING_STOPS)
    )
    space = replace(space, pairs=pairs, pair_stops=tuple(pair.stops for pair in pairs))
    solved = best_many(space, wanted, 0) if choice.way == "many" else best_single(space, wanted, 0)
    return solved and replace(solved, bracket_stops=choice.bracket_stops)
