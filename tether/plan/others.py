"""Other ways to make a rung, told apart by what they are paid with: deeper, cleaner, fewer touches, many short ones."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from tether.exposure.marks import Mark
from tether.exposure.stops import aperture_stops, iso_stops
from tether.plan.choices import FittingWay, Space, best_many, choice_of
from tether.plan.ladder import Alternative, Choice
from tether.plan.words import paid_words, way_words

#: From so many stops of aperture or ISO on another way is deeper or cleaner, and not the same in thirds.
OTHER_STOPS = 0.9
_TINY = 1e-9
Fits = Callable[[int, int], bool]


@dataclass(frozen=True, kw_only=True)
class Asked:
    """A rung whose other ways are asked for: what was chosen, and what touches each stack costs there [stops]."""

    wanted: Mark
    chosen: Choice
    found: Mapping[int, Sequence[FittingWay]]
    touches_stops: Mapping[int, float]
    chosen_touches_stops: float


def other_ways(space: Space, asked: Asked) -> tuple[Alternative, ...]:
    """Return the other ways, cheapest first, each paid with something else; *many* comes last, by name."""
    best: dict[tuple[int, FittingWay], list[str]] = {}
    for name, fits in _kinds(space, asked).items():
        found = min(_of_kind(asked, fits), default=None)
        if found is not None:
            best.setdefault(found[1:], []).append(name)
    told = [
        _alternative(space, asked, " and ".join(names), choice_of(space, asked.wanted, stack, found), stack)
        for (stack, found), names in best.items()
    ]
    told.sort(key=lambda one: one.price_more)
    return (*told, *_many(space, asked))


def _kinds(space: Space, asked: Asked) -> dict[str, Fits]:
    """Return what another way may be beside the one chosen: by its pair of aperture and ISO, and its stack."""
    aperture, iso = asked.chosen.aperture.exact, asked.chosen.iso.exact
    wider = [aperture_stops(pair.aperture.exact, aperture) for pair in space.pairs]
    more = [iso_stops(pair.iso.exact, iso) for pair in space.pairs]
    fewer = {at for at, stops in asked.touches_stops.items() if stops < asked.chosen_touches_stops - _TINY}
    return {
        "deeper": lambda at, _: wider[at] < -OTHER_STOPS,
        "cleaner": lambda at, _: more[at] < -OTHER_STOPS,
        "fewer touches": lambda _, stack: stack in fewer,
        "wider open": lambda at, _: wider[at] > OTHER_STOPS,
    }


def _of_kind(asked: Asked, fits: Fits) -> Iterator[tuple[float, int, FittingWay]]:
    """Yield the ways of a kind, each with its cost, touches included, and the stack that it is through."""
    for stack, touches in asked.touches_stops.items():
        for one in asked.found[stack]:
            if fits(one.at, stack):
                yield one.price + touches, stack, one


def _many(space: Space, asked: Asked) -> Iterator[Alternative]:
    if space.plan.rungs.many == "never" or asked.chosen.way != "held":
        return
    made = ((best_many(space, asked.wanted, stack), stack) for stack in asked.touches_stops)
    found = [(one.price + asked.touches_stops[stack], stack, one) for one, stack in made if one is not None]
    if found:
        _, stack, choice = min(found, key=lambda one: one[:2])
        yield _alternative(space, asked, "many short ones", choice, stack)


def _alternative(space: Space, asked: Asked, kind: str, choice: Choice, stack: int) -> Alternative:
    touches = asked.touches_stops[stack]
    more = choice.price + touches - asked.chosen.price - asked.chosen_touches_stops
    costs = paid_words(choice, touches, space.plan.base.aperture.exact)
    why_not = ", not taken: common practice goes before cost" if more < -_TINY else ""
    if choice.way == "many":
        why_not = ', taken only with rungs.many = "use"'
    return Alternative(
        choice=choice, kind=kind, price_more=more, words=f"{kind}: {way_words(choice)}: costs {costs}{why_not}"
    )
