"""The planner: from a checked plan and what a body can do to a ladder. Numbers only; nothing is touched or read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise

from tether.errors import PlanError
from tether.exposure.abilities import Abilities
from tether.exposure.filters import Filter, change_s, fits, may_stack, stacks
from tether.exposure.labels import with_unit
from tether.exposure.marks import Mark
from tether.exposure.stops import iso_stops, time_stops
from tether.journal.planned import Forecast, NotReached, PlannedTurn
from tether.plan.bag import bag_words
from tether.plan.base import base_frames, base_unkept
from tether.plan.bracket import partner, time_of
from tether.plan.cautions import cautions, dark_caution
from tether.plan.choices import Space, best_by_stack, best_many, make_space, nearest_time_s, tied_at, ways
from tether.plan.file import SCALES, Order, Plan
from tether.plan.ladder import (
    OFFERED_FOR_S,
    Alternative,
    BaseFrames,
    Choice,
    Dark,
    Ladder,
    PlannedExposure,
    Rung,
    exposures,
)
from tether.plan.light_ahead import light_ahead, said_of, with_expected
from tether.plan.order import RungOrder, in_light
from tether.plan.others import Asked, other_ways
from tether.plan.path import cheapest_path, grouped, orders, touched, touches
from tether.plan.proof import with_proofs
from tether.plan.takes import body_dark_s
from tether.plan.wanted import FINE_FROM_S, FINE_TO_S, SAME_STOPS, Wanted, as_mark, wanted_rungs
from tether.plan.words import bracket_words, in_stops, paid_words, reason, stack_name, unreached_sentence
from tether.wording import span, which_rungs

#: With these the dark frames come after the last rung, under the cap.
DARKS_LAST = ("at the end", "offer")
_DARKS_FOLLOW = "dark frames of the long times follow"

#: From so many filters on the lens on corners and flare are spoken of (common practice, no source).
MUCH_GLASS = 3
#: A time that is made instead of one out of reach is none of its own where another rung is as near as this [stops].
SAME_RUNG_STOPS = 0.25

_Names = tuple[str, ...]


@dataclass(frozen=True)
class _Row:
    """One wanted rung with the best choice for each stack (None where there is none), and the time asked for."""

    wanted: Wanted
    asked: Mark
    also: tuple[Filter, ...]
    allowed: tuple[bool, ...]
    choices: tuple[Choice | None, ...]

    def fitted(self, stack: tuple[Filter, ...]) -> tuple[Filter, ...]:
        return tuple(sorted((*stack, *self.also), key=lambda one: one.slot))


_Taken = list[tuple[_Row, Choice]]


def make_ladder(plan: Plan, abilities: Abilities, others: int = 0, begins: datetime | None = None) -> Ladder:
    """Plan a ladder.

    Parameters
    ----------
    plan
        The checked plan.
    abilities
        What the body can do with the plan's lens.
    others
        How many other ways to give for each rung.
    begins
        When it is to begin, aware: where the plan says where it is, the forecast counts on the light of the sun from
        then on. None: not known; then only a rate that the plan gives counts.

    Raises
    ------
    PlanError
        If nothing at all can be planned: no aperture or ISO within the limits, a turn before a rung that is not
        asked for. A rung that cannot be had is no error: the nearest that can is made, and `Ladder.unreached` says it.
    """
    _check_filters(plan)
    space = _space(plan, abilities)
    wanted = wanted_rungs(plan, abilities.pitch_um, SCALES[plan.top.scale])
    _check_turns(plan, wanted)
    rows, unreached = _rows(space, wanted)
    rungs = _rungs(space, _in_order(space, rows), others)
    darks = darks_of(plan, rungs)
    turns = turns_of(plan, abilities, rungs, darks)
    base = base_frames(plan, abilities, rungs)
    light = light_ahead(plan, begins)
    rungs = with_expected(plan, abilities, rungs, turns, base, light)
    forecast = forecast_of(plan, abilities, turns, base, exposures(base, rungs, darks), darks)
    strongest = max((rung.choice.filter_stops for rung in rungs), default=0.0)
    dark = dark_caution(plan.place, begins, forecast.total_s)
    return Ladder(
        title=plan.top.title,
        body_name=abilities.name,
        simulated=abilities.simulated,
        body_tried=abilities.tried,
        base=plan.base,
        base_frames=base,
        always_on=tuple(one for one in plan.filters if one.kind == "always on"),
        on_hand=plan.filters,
        rungs=rungs,
        turns=turns,
        darks=darks,
        unreached=unreached,
        cautions=(*cautions(plan.place, strongest, forecast.total_s), *filter(None, (plan.tide.told, dark))),
        notes=(
            *plan.old_keys,
            *_base_notes(plan, abilities),
            *_filter_notes(plan),
            *_light_notes(plan, rungs, forecast.total_s),
            *said_of(plan, rungs, light, begins),
            *_lost_to_light(space, rungs),
            *_glass_notes(plan, rungs),
            *_bracket_notes(rows, rungs),
            *bag_words(space, rungs),
        ),
        forecast=forecast,
        leave_by=None if plan.leave_by is None else plan.leave_by.isoformat(timespec="minutes"),
    )


def _space(plan: Plan, abilities: Abilities) -> Space:
    payers = tuple(one for one in plan.filters if one.kind != "graduated")
    space = make_space(plan, abilities, stacks(payers, focal_mm=plan.lens.focal_mm))
    if not space.pairs:
        where = plan.path.name
        raise PlanError(
            f"{where}: limits: no aperture and ISO of {abilities.name} with this lens lie within the limits; it has "
            f"{abilities.apertures[0].label} to {abilities.apertures[-1].label} and ISO {abilities.isos[0].label} to "
            f"{abilities.isos[-1].label}, and a depth of field wanted also narrows the choice."
            if abilities.apertures
            else f"{where}: lens: {abilities.name} has no aperture between {plan.lens.widest.label} and "
            f"{plan.lens.narrowest.label}."
        )
    return space


def _base_notes(plan: Plan, abilities: Abilities) -> list[str]:
    """Say what a base exposure leads to that the body can't be set to."""
    lacks = base_unkept(plan, abilities)
    comes = "No base frames are taken, and rungs differ from it by what is rounded."
    return [] if lacks is None else [f"The base: {lacks}. {comes}"]


def _filter_notes(plan: Plan) -> list[str]:
    """Say what must be known of filters and light: what may not be turned, what is left out, what grows old."""
    focal_mm = plan.lens.focal_mm
    found = [
        f"{one.name} stays on for the whole ladder and is not turned: turning a polariser changes the light."
        for one in plan.filters
        if one.kind == "always on"
    ]
    found += [
        f"{one.name} is left out: it shows dark corners on lenses shorter than {one.min_focal_mm:g} mm."
        for one in plan.filters
        if one.kind == "nd" and not fits(one, focal_mm)
    ]
    asked = {name for one in plan.rung for name in one.also or ()} | set(plan.rungs.also)
    found += [
        f"{one.name} is on for no rung: name it in rungs.also, or in a [[rung]]'s also, where it is to be on."
        for one in plan.filters
        if one.kind == "graduated" and one.name not in asked
    ]
    return found


def _light_notes(plan: Plan, rungs: Sequence[Rung], total_s: float) -> list[str]:
    """Say what the order makes of light that changes."""
    if plan.light.trend == "steady" or plan.rungs.order != "fewest touches" or len(rungs) < 2:
        return []
    changes = total_s / 60 * plan.light.stops_per_min
    return [
        (
            f"The light is {plan.light.trend}, {in_stops(changes)} over the forecast at {plan.light.stops_per_min:g} a "
            f"minute: {_first_in_light(rungs)}. Meter the base again when it has changed."
        )
    ]


def _first_in_light(rungs: Sequence[Rung]) -> str:
    """Say which rungs come first, and why."""
    own = [rung for rung in rungs if rung.choice.bracket_stops is None]
    times, must = [rung.wanted.exact for rung in own], [rung.must for rung in own]
    in_turn = times in (sorted(times), sorted(times, reverse=True))
    if not in_turn and any(must) and must == sorted(must, reverse=True):
        return "rungs that must be had come first, while there is light for them"
    return f"{'frozen' if times[0] < times[-1] else 'long'} rungs come first, which costs least"


def _lost_to_light(space: Space, rungs: Sequence[Rung]) -> list[str]:
    """Say at once which rungs the light that changes leaves no way for; what must be had comes before them."""
    if space.plan.light.trend == "steady":
        return []
    own = [rung for rung in rungs if rung.choice.bracket_stops is None and rung.choice.way != "many"]
    steps = [RungOrder(wanted=one.wanted, frames=one.frames, choice=one.choice, fitted=one.fitted) for one in own]
    lost = sorted(own[at].number for at in in_light(space, steps).lost)
    if not lost:
        return []
    what = "little light left" if space.plan.light.trend == "falling" else "much light by then"
    which = which_rungs(lost)
    return [f"By the forecast there is too {what} for {which}; mark a rung as must, and others go first."]


def _glass_notes(plan: Plan, rungs: Sequence[Rung]) -> list[str]:
    """Say where much glass or an extended ISO asks for a look at the picture."""
    always = sum(1 for one in plan.filters if one.kind == "always on")
    thick = [rung.number for rung in rungs if len(rung.fitted) + always >= MUCH_GLASS]
    pulled = [rung.number for rung in rungs if rung.headroom_lost_stops > 0.05]
    found = []
    if thick:
        found.append(f"{_numbered(thick)} through three or more glasses: look for dark corners and flare.")
    if pulled:
        found.append(
            f"{_numbered(pulled)} at an extended ISO: white water clips sooner than at the body's own lowest ISO."
        )
    return found


def _numbered(numbers: Sequence[int]) -> str:
    one = len(numbers) == 1
    return f"{which_rungs(numbers).capitalize()} {'is' if one else 'are'} made"


def _check_filters(plan: Plan) -> None:
    """Raise PlanError for filters that must be on and cannot be: dark corners, or not beside one another."""
    asked = {name for one in plan.rung for name in one.also or ()} | set(plan.rungs.also)
    must = [one for one in plan.filters if one.kind == "always on"]
    must += [one for one in plan.filters if one.name in asked]
    wrong = [
        f"{plan.path.name}: filter {one.name}: it shows dark corners on lenses shorter than {one.min_focal_mm:g} mm, "
        f"and this one has {plan.lens.focal_mm:g} mm; leave it out or take another lens."
        for one in must
        if not fits(one, plan.lens.focal_mm)
    ]
    wrong += [
        f"{plan.path.name}: filter {one.name} and filter {other.name} are both to be on and may not be stacked; see "
        "their stacks_with and slot."
        for index, one in enumerate(must)
        for other in must[:index]
        if not may_stack(one, other)
    ]
    if wrong:
        raise PlanError(*wrong)


def _check_turns(plan: Plan, wanted: Sequence[Wanted]) -> None:
    wrong = [
        f"{plan.path.name}: turn[{index + 1}].before = {turn.before.label}: no rung has this time; there are "
        f"{', '.join(one.time.label for one in wanted)}."
        for index, turn in enumerate(plan.turn)
        if not any(abs(time_stops(turn.before.exact, one.time.exact)) <= SAME_STOPS for one in wanted)
    ]
    if wrong:
        raise PlanError(*wrong)


def _rows(space: Space, wanted: Sequence[Wanted]) -> tuple[list[_Row], tuple[NotReached, ...]]:
    """Return the rungs that can be had, each once, and what is said of those that cannot."""
    asked = [_row(space, one, one.time) for one in wanted]
    rows = [row for row in asked if any(row.choices)]
    unreached = []
    for row in asked:
        if any(row.choices):
            continue
        time_s = nearest_time_s(space, row.asked.exact, row.allowed)
        made = None if time_s is None else as_mark(time_s, SCALES[space.plan.top.scale])
        there = made is not None and any(
            abs(time_stops(made.exact, one.wanted.time.exact)) < SAME_RUNG_STOPS for one in rows
        )
        if made is not None and not there:
            instead = _row(space, replace(row.wanted, time=made), row.asked)
            made = made if any(instead.choices) else None
            rows += [instead] if made else []
        sentence = unreached_sentence(space, row.asked, made, is_there=there)
        unreached.append(NotReached(wanted_s=row.asked.exact, wanted_label=row.asked.label, sentence=sentence))
    return sorted(rows, key=lambda row: row.wanted.time.exact), tuple(unreached)


def _row(space: Space, wanted: Wanted, asked: Mark) -> _Row:
    also = tuple(one for one in space.plan.filters if one.name in wanted.also)
    allowed = tuple(all(may_stack(one, other) for one in also for other in stack) for stack in space.stacks)
    choices = best_by_stack(space, wanted.time, allowed)
    if not any(choices) and space.plan.rungs.many == "use":
        choices = tuple(best_many(space, wanted.time, at) if ok else None for at, ok in enumerate(allowed))
    return _Row(wanted, asked, also, allowed, choices)


def _in_order(space: Space, rows: list[_Row]) -> _Taken:
    """Put rungs in the order that the plan asks for, or that costs least, and choose a stack for each."""
    short_first, long_first = _walk(space, rows), _walk(space, rows[::-1])
    by_filter = _by_filter(space, short_first[1])
    asked: dict[Order, _Taken] = {
        "short first": short_first[1],
        "long first": long_first[1],
        "by filter": by_filter[1],
    }
    order = space.plan.rungs.order
    if order in asked:
        return asked[order]
    walks = (short_first, by_filter, long_first)
    if space.plan.light.trend == "steady":
        return min(walks, key=lambda one: round(one[0], 6))[1]
    must_first = [_walk(space, sorted(each, key=lambda row: not row.wanted.must)) for each in (rows, rows[::-1])]
    return min((*walks, *must_first), key=lambda one: _in_light(space, one))[1]


def _in_light(space: Space, walk: tuple[float, _Taken]) -> tuple[int, float]:
    """Return how many rungs that must be had a walk loses to the light that changes, and what it costs.

    That is its touches, and its rungs in the light of their moment.
    """
    total, taken = walk
    steps = [
        RungOrder(
            wanted=row.wanted.time,
            frames=row.wanted.frames,
            choice=choice,
            fitted=row.fitted(choice.stack),
            must=row.wanted.must,
        )
        for row, choice in taken
    ]
    found = in_light(space, steps)
    cost = total - sum(choice.price for _, choice in taken) + found.cost_stops
    return sum(steps[at].must for at in found.lost), round(cost, 6)


def _walk(space: Space, rows: list[_Row]) -> tuple[float, _Taken]:
    """Find the cheapest way over rungs and stacks, each stack in every order that it can be put on the lens."""
    states = [(stack, order) for stack, combination in enumerate(space.stacks) for order in orders(combination)]
    touch_stops = space.plan.costs.touch_stops
    # What it costs to come to each state, worked out once for each stack to come from and what else is on.
    moves: dict[tuple[_Names, int | None, _Names], list[float]] = {}

    def move(step: int, come: int | None, to: int) -> float:
        before, after = rows[step - 1] if step else None, rows[step]
        key = (before.wanted.also if before else (), come, after.wanted.also)
        if key not in moves:
            on = () if before is None or come is None else before.fitted(states[come][1])
            moves[key] = [touch_stops * touches(on, after.fitted(order)) for _, order in states]
        return moves[key][to]

    prices = [[None if (choice := row.choices[stack]) is None else choice.price for stack, _ in states] for row in rows]

    def leave(come: int) -> float:
        return touch_stops * touches(rows[-1].fitted(states[come][1]), ())

    total, path = cheapest_path(prices, move, leave)
    chosen: _Taken = []
    for row, at in zip(rows, path, strict=True):
        stack, order = states[at]
        choice = row.choices[stack]
        if choice is not None:
            tied = _as_before(space, row, stack, choice, chosen)
            chosen.append((row, replace(tied, stack=order)))
    return total, chosen


def _as_before(space: Space, row: _Row, stack: int, choice: Choice, chosen: _Taken) -> Choice:
    """Return a rung's choice at the aperture of the rung before where that is as good and the two may be blended."""
    if not chosen or choice.way == "many" or not (_may_blend(row) and _may_blend(chosen[-1][0])):
        return choice
    return tied_at(space, row.wanted.time, stack, chosen[-1][1].aperture) or choice


def _may_blend(row: _Row) -> bool:
    """Say whether a rung is one of those whose water is compared and blended: where it changes character."""
    return FINE_FROM_S * 0.99 <= row.wanted.time.exact <= FINE_TO_S * 1.01


def _by_filter(space: Space, chosen: _Taken) -> tuple[float, _Taken]:
    fitted = [row.fitted(choice.stack) for row, choice in chosen]
    order = grouped(fitted)
    moves = pairwise([(), *(fitted[index] for index in order), ()])
    total = sum(choice.price for _, choice in chosen)
    total += space.plan.costs.touch_stops * sum(touches(before, after) for before, after in moves)
    return total, [chosen[index] for index in order]


def _rungs(space: Space, taken: _Taken, others: int) -> tuple[Rung, ...]:
    rungs: list[Rung] = []
    stacks = [(), *(row.fitted(choice.stack) for row, choice in taken), ()]
    for at, (row, choice) in enumerate(taken):
        on_lens = _OnLens(space, row, stacks[at], stacks[at + 2], last=at + 1 == len(taken))
        rung = _rung(space, row, choice, on_lens, others)
        rungs += [rung, *_bracket(space, row, rung)]
    numbered = [replace(rung, number=number) for number, rung in enumerate(rungs, 1)]
    return tuple(with_proofs(space.plan, space.abilities, numbered))


def _rung(space: Space, row: _Row, choice: Choice, on_lens: _OnLens, others: int) -> Rung:
    plan, base_iso = space.plan, space.abilities.base_iso
    fitted, many = row.fitted(choice.stack), choice.way == "many"
    told = _others(space, row, choice, on_lens) if others else ()
    return Rung(
        number=0,
        asked=row.asked,
        wanted=row.wanted.time,
        choice=choice,
        fitted=fitted,
        frames=choice.frames if many else row.wanted.frames,
        taken="burst" if many else row.wanted.taken,
        reason=reason(plan, choice, base_iso, stays_on=bool(fitted) and fitted == on_lens.before),
        costs=_costs(plan, choice, on_lens.touches_stops(fitted), told),
        touches_stops=on_lens.touches_stops(fitted),
        headroom_lost_stops=max(iso_stops(base_iso, choice.iso.exact), 0.0),
        proof=None,
        must=row.wanted.must,
        others=told[:others],
    )


def _bracket(space: Space, row: _Row, rung: Rung) -> list[Rung]:
    """Return the frames around a rung as rungs of their own, which follow it with the lens as it is."""
    found = []
    for stops in row.wanted.bracket:
        choice = partner(space, rung.choice, stops)
        if choice is None:
            continue
        time = time_of(choice)
        made = replace(
            rung,
            asked=time,
            wanted=time,
            choice=choice,
            reason=bracket_words(choice, rung.choice, rung.asked, stops),
            costs="",
            touches_stops=0.0,
            proof=None,
            others=(),
        )
        found.append(made)
    return found


def _bracket_notes(rows: Sequence[_Row], rungs: Sequence[Rung]) -> list[str]:
    """Say which frames of a bracket neither time nor ISO can make."""
    wanted = sum(len(row.wanted.bracket) for row in rows)
    made = sum(rung.choice.bracket_stops is not None for rung in rungs)
    if wanted == made:
        return []
    return [
        f"{made} of {wanted} frames around rungs (bracket) are possible: body or limits have no time or ISO for more."
    ]


@dataclass(frozen=True)
class _OnLens:
    """What is on the lens before and after a rung, to tell what touches its filters cost."""

    space: Space
    row: _Row
    before: tuple[Filter, ...]
    following: tuple[Filter, ...]
    last: bool

    def touches_stops(self, fitted: tuple[Filter, ...]) -> float:
        """Return what coming to some filters costs [stops], with taking them off at the end of the ladder."""
        count = touches(self.before, fitted) + (touches(fitted, ()) if self.last else 0)
        return self.space.plan.costs.touch_stops * count

    def beside(self, chosen: tuple[Filter, ...], stack: tuple[Filter, ...]) -> float:
        """Return what another stack would cost here [stops], with what it makes of the way to the next rung."""

        def cost(fitted: tuple[Filter, ...]) -> float:
            later = 0 if self.last else touches(fitted, self.following) - touches(chosen, self.following)
            return self.touches_stops(fitted) + self.space.plan.costs.touch_stops * later

        return min(cost(self.row.fitted(order)) for order in orders(stack))


def _others(space: Space, row: _Row, chosen: Choice, on_lens: _OnLens) -> tuple[Alternative, ...]:
    fitted = row.fitted(chosen.stack)
    stacks = [at for at, ok in enumerate(row.allowed) if ok]
    asked = Asked(
        wanted=row.wanted.time,
        chosen=chosen,
        found={at: tuple(ways(space, row.wanted.time, at)) for at in stacks},
        touches_stops={at: on_lens.beside(fitted, space.stacks[at]) for at in stacks},
        chosen_touches_stops=on_lens.touches_stops(fitted),
    )
    return other_ways(space, asked)


def _costs(plan: Plan, choice: Choice, touches_stops: float, told: Sequence[Alternative]) -> str:
    """Say what a rung costs, and the next best way with what that would."""
    costs = f"Costs {paid_words(choice, touches_stops, plan.base.aperture.exact)}"
    other = next((one for one in told if one.choice.way != "many"), None)  # the cheapest comes first
    return f"{costs}." if other is None else f"{costs}. Next best, {other.words}."


def turns_of(plan: Plan, abilities: Abilities, rungs: Sequence[Rung], darks: Sequence[Dark]) -> tuple[PlannedTurn, ...]:
    """Return what the person must do for a ladder of these, in order."""
    turns: list[PlannedTurn] = []
    fitted: tuple[Filter, ...] = ()
    covered = abilities.optical_finder is False
    for rung in rungs:
        if rung.fitted != fitted:
            turns.append(change_turn(rung, fitted))
            fitted = rung.fitted
        if not covered and rung.choice.time_s >= 1:
            turns.append(_cover(rung, abilities.optical_finder))
            covered = True
        turns += [
            PlannedTurn(
                before_rung=rung.number,
                kind="own",
                what=entry.what,
                reason=entry.why or f"asked for in the plan before {with_unit(rung.wanted.label)}",
                takes_s=0.0,
                filters=_names(fitted),
            )
            for entry in plan.turn
            if rung.choice.bracket_stops is None and abs(time_stops(entry.before.exact, rung.asked.exact)) <= SAME_STOPS
        ]
    if darks:
        turns.append(_cap_on(fitted, _offered_s(abilities, darks)))
    return tuple(turns)


def change_turn(rung: Rung, before: tuple[Filter, ...]) -> PlannedTurn:
    """Return the turn that brings the lens from the filters before to those of a rung."""
    off, on = touched(before, rung.fitted)
    words = [f"take off {stack_name(off)}"] if off else []
    words += [f"fit {stack_name(on)}"] if on else []
    why = f"rung {rung.number}, {with_unit(rung.wanted.label)}, is made with {stack_name(rung.fitted)}"
    return PlannedTurn(
        before_rung=rung.number,
        kind="change filters",
        what=", ".join(words),
        reason=why,
        takes_s=change_s(off, on),
        filters=_names(rung.fitted),
    )


def _cover(rung: Rung, finder: bool | None) -> PlannedTurn:
    what = "cover the viewfinder" if finder else "cover the viewfinder, if this body has an optical one"
    why = "stray light through an optical viewfinder spoils long exposures"
    return PlannedTurn(
        before_rung=rung.number,
        kind="cover the finder",
        what=what,
        reason=why,
        takes_s=10.0,
        filters=_names(rung.fitted),
    )


def _cap_on(fitted: tuple[Filter, ...], offered_s: float) -> PlannedTurn:
    """Return the turn before the dark frames; `offered_s` is what they take where they are only offered [s], or 0."""
    what = "put the cap on for dark frames" if offered_s else "put the cap on"
    offer = (
        f"offered, of the long times: they take {span(offered_s)}, pack meanwhile;"
        f" left out unless it is on within {OFFERED_FOR_S / 60:.0f} min"
    )
    why = offer if offered_s else _DARKS_FOLLOW
    return PlannedTurn(before_rung=None, kind="cap on", what=what, reason=why, takes_s=10.0, filters=_names(fitted))


def _names(fitted: tuple[Filter, ...]) -> tuple[str, ...]:
    return tuple(one.name for one in fitted)


def _offered_s(abilities: Abilities, darks: Sequence[Dark]) -> float:
    """Return how long the dark frames take that are only offered [s]."""
    return sum(dark.time_s + (abilities.fetch_s or 0.0) for dark in darks if dark.offered)


def darks_of(plan: Plan, rungs: Sequence[Rung]) -> tuple[Dark, ...]:
    """Return one dark frame for each long time and ISO, longest last."""
    if plan.run.dark_frames not in DARKS_LAST:
        return ()
    long = [rung.choice for rung in rungs if rung.choice.time_s >= plan.run.dark_over.exact * 0.99]
    choices = sorted({(one.time_s, one.iso): one for one in long}.values(), key=lambda one: one.time_s)
    return tuple(
        Dark(
            way="held" if one.way == "held" else "timed",
            time_s=one.time_s,
            time_label=one.time_label,
            aperture=one.aperture,
            iso=one.iso,
            offered=plan.run.dark_frames == "offer",
        )
        for one in choices
    )


def forecast_of(
    plan: Plan,
    abilities: Abilities,
    turns: Sequence[PlannedTurn],
    base: BaseFrames,
    made: Sequence[PlannedExposure],
    darks: Sequence[Dark],
) -> Forecast:
    """Return how long a ladder of these takes; `made` are its exposures."""
    offered_s = _offered_s(abilities, darks)

    def exposed_s(kind: str) -> float:
        return sum(one.time_s + body_dark_s(plan, one.time_s) for one in made if one.kind == kind)

    return Forecast(
        exposing_s=exposed_s("rung"),
        proofs_s=exposed_s("proof"),
        changes_s=sum(turn.takes_s for turn in turns if not (offered_s and turn.kind == "cap on")) + base.take_off_s,
        settling_s=plan.run.settle_s * sum(1 for turn in turns if turn.kind != "cap on"),
        fetching_s=(abilities.fetch_s or 0.0) * len(made),
        darks_s=exposed_s("dark"),
        base_s=exposed_s("base"),
        offered_s=offered_s,
    )
