"""What in the bag would help: the one filter that would make rungs at base ISO which had to raise it."""

from __future__ import annotations

from collections.abc import Sequence

from tether.exposure.filters import Filter
from tether.exposure.stops import iso_stops, time_stops
from tether.plan.choices import AT_BASE_ISO, FittingWay, Space, best, make_space, ways
from tether.plan.ladder import Rung
from tether.wording import which_rungs

#: The strengths that are sold, those met most often first [stops] (common practice, no source).
SOLD_STOPS = {3: "three", 6: "six", 10: "ten", 1: "one", 2: "two", 4: "four", 15: "fifteen"}
#: A slower rung that raises ISO by so much is worth a word [stops].
_RAISED_STOPS = 0.9


def bag_words(space: Space, rungs: Sequence[Rung]) -> list[str]:
    """Say which filter would make rungs at the base's ISO that are made at a higher one, if one filter does."""
    plan = space.plan
    raised = [
        rung
        for rung in rungs
        if iso_stops(rung.choice.iso.exact, plan.base.iso.exact) >= _RAISED_STOPS
        and time_stops(rung.wanted.exact, plan.base.time.exact) > 0
    ]
    helped = {stops: _helped(space, stops, raised) for stops in SOLD_STOPS} if raised else {}
    stops = max(
        helped, key=lambda one: (len(helped[one]), -sum(found.rank for found in helped[one].values())), default=3
    )
    numbers = sorted(helped.get(stops, ()))
    if not numbers:
        return []
    made = f"{which_rungs(numbers)} at ISO {plan.base.iso.label}"
    return [f"A {SOLD_STOPS[stops]}-stop filter would make {made}."]


def _helped(space: Space, stops: int, rungs: Sequence[Rung]) -> dict[int, FittingWay]:
    """Return by their numbers the rungs that one more filter, alone or before those on hand, makes at base ISO."""
    more = Filter.of(f"{stops} stops", stops=stops)
    stacks = ((more,), *((*stack, more) for stack in space.stacks if 1 <= len(stack) <= 2))
    wider = make_space(space.plan, space.abilities, stacks)
    found = {
        rung.number: best(one for at in range(len(stacks)) for one in ways(wider, rung.wanted, at)) for rung in rungs
    }
    return {number: one for number, one in found.items() if one is not None and one.rank < AT_BASE_ISO}
