"""The planner's reasons in one line each: why a choice was made, what another would cost, what cannot be had."""

from __future__ import annotations

from collections.abc import Sequence
from math import log2, sqrt

from tether.exposure.filters import Filter
from tether.exposure.labels import time_label, with_unit
from tether.exposure.marks import Mark
from tether.exposure.noise import noise_gain
from tether.exposure.stops import aperture_stops, iso_stops, time_stops
from tether.plan.choices import Space, allowed_apertures, allowed_isos, darker_by
from tether.plan.file import Plan
from tether.plan.ladder import Choice


def in_stops(stops: float) -> str:
    """Write a number of stops for people, to a tenth: "0.3 stop", "1 stop", "6.2 stops"."""
    rounded = f"{stops:.1f}".removesuffix(".0")
    return f"{rounded} stop" if float(rounded) <= 1 else f"{rounded} stops"


def stack_name(stack: Sequence[Filter]) -> str:
    """Name a stack of filters, nearest the lens first."""
    return " + ".join(one.name for one in stack) or "no filter"


def _aperture_words(plan: Plan, choice: Choice) -> str:
    wider = aperture_stops(choice.aperture.exact, plan.base.aperture.exact)
    if abs(wider) < 0.05:
        return ""
    return f"{choice.aperture.label} {'lets in' if wider > 0 else 'holds back'} {in_stops(abs(wider))}"


def _iso_words(plan: Plan, choice: Choice, base_iso: float) -> str:
    more = iso_stops(choice.iso.exact, plan.base.iso.exact)
    lost = iso_stops(base_iso, choice.iso.exact)
    if lost > 0.05:
        return f"extended ISO {choice.iso.label} costs {in_stops(lost)} of highlight headroom"
    if abs(more) < 0.05:
        return ""
    return f"ISO {choice.iso.label} {'pays' if more > 0 else 'gives back'} {in_stops(abs(more))}"


def _way_words(choice: Choice) -> str:
    if choice.way == "held":
        return "held, so the time takes up all rounding"
    if choice.way == "many":
        return (
            f"{choice.frames} frames of {with_unit(choice.time_label)} stand for {choice.stands_for_s:.0f} s: averaged "
            f"as bright as one of them with noise {noise_gain(choice.frames):.1f} times lower"
        )
    return ""


def reason(plan: Plan, choice: Choice, base_iso: float, stays_on: bool) -> str:
    """Say in one line why a rung is made this way; `stays_on`: its filters were on for the rung before."""
    verb = "carries" if len(choice.stack) == 1 else "carry"
    carries = f"{stack_name(choice.stack)} {verb} {in_stops(choice.filter_stops)}" if choice.stack else "no ND filter"
    if choice.stack and stays_on:
        carries += " and stays on" if len(choice.stack) == 1 else " and stay on"
    paid = [words for words in (_aperture_words(plan, choice), _iso_words(plan, choice, base_iso)) if words]
    parts = [carries, *(paid or ["aperture and ISO as in the base"]), _way_words(choice)]
    if choice.darker_by_stops >= 0.05:
        unmeasured = [one.name for one in choice.stack if not one.measured]
        unmeasured += [] if plan.base.measured else ["the base"]
        why = f": {' and '.join(unmeasured)} not measured" if unmeasured else ""
        parts.append(f"{in_stops(choice.darker_by_stops)} darker{why}")
    return "; ".join(part for part in parts if part)


def alternative_words(choice: Choice, chosen: Choice) -> str:
    """Describe another choice by what differs from the one made."""
    words = [
        f"{with_unit(choice.time_label) if choice.way != 'held' else f'held {choice.time_s:.1f} s'}",
        choice.aperture.label,
        f"ISO {choice.iso.label}",
        stack_name(choice.stack),
    ]
    more_error = abs(choice.error_stops) - abs(chosen.error_stops)
    if more_error > 0.02:
        words.append(f"{choice.error_stops:+.2f} stop off")
    return ", ".join(words)


def _nearest_time(space: Space, wanted_s: float) -> tuple[float, str] | None:
    """Return the attainable time nearest to a wanted one [s], and its settings in words."""
    abilities, base = space.abilities, space.plan.base
    best: tuple[float, float, str] | None = None
    for index, stack in enumerate(space.stacks):
        paid = space.stack_stops[index] - darker_by(space, wanted_s, index)
        for pair in space.pairs:
            time_s = base.time.exact * 2 ** (paid + pair.stops)
            held = bool(abilities.can_hold) and abilities.shortest_hold_s <= time_s <= abilities.longest_hold_s
            timed = abilities.times[0].exact * 0.9 <= time_s <= abilities.times[-1].exact * 1.1
            if not (held or timed):
                continue
            distance = abs(log2(time_s / wanted_s))
            if best is None or distance < best[0] - 1e-9:
                words = f"{pair.aperture.label}, ISO {pair.iso.label}, {stack_name(stack)}"
                best = (distance, time_s, words)
    return None if best is None else best[1:]


def _filter_remedy(space: Space, wanted: Mark) -> list[str]:
    """Say which strength of filter would do, with apertures and ISO as the limits allow them."""
    longer = time_stops(wanted.exact, space.plan.base.time.exact)
    weakest, strongest = longer - space.pair_stops[-1], longer - space.pair_stops[0]
    if strongest < 0.3:
        return []
    if strongest - weakest < 0.1:
        return [f"filters of {in_stops(strongest)} in all"]
    if weakest < 0.3:
        return [f"filters of up to {in_stops(strongest)} in all"]
    return [f"filters of {weakest:.1f} to {strongest:.1f} stops in all"]


def _light_remedies(space: Space, missing: float) -> list[str]:
    """Say which wider limit of ISO or aperture would bring the light that is missing, as far as the body has it."""
    plan, abilities = space.plan, space.abilities
    isos, apertures = allowed_isos(plan, abilities), allowed_apertures(plan, abilities)
    remedies = []
    needed_iso = isos[-1].exact * 2**missing
    iso = next((one for one in abilities.isos if one.exact >= needed_iso * 0.98), None)
    if iso:
        remedies.append(f"limits.iso up to {iso.label}")
    wider = apertures[0].exact / sqrt(2) ** missing
    aperture = next((one for one in reversed(abilities.apertures) if one.exact <= wider * 1.02), None)
    if aperture:
        remedies.append(f"limits.aperture from {aperture.label}")
    return remedies


def unreached_sentence(space: Space, wanted: Mark) -> str:
    """Say why a rung cannot be had, the nearest that can, and what would make it reachable."""
    what = with_unit(wanted.label)
    abilities, limits = space.abilities, space.plan.limits
    if limits.longest and wanted.exact > limits.longest.exact * 1.01:
        return f"{what}: longer than limits.longest of {with_unit(limits.longest.label)}; raise it to have this rung."
    nearest = _nearest_time(space, wanted.exact)
    if nearest is None:
        return f"{what}: nothing within the limits can be exposed at all; widen limits.aperture or limits.iso."
    time_s, settings = nearest
    near = f"the nearest is {with_unit(time_label(time_s))} ({settings})"
    off = log2(wanted.exact / time_s)
    beyond = wanted.exact > abilities.times[-1].exact * 1.1 and not abilities.can_hold
    if abs(off) <= limits.time_off_stops or beyond:
        known = "cannot be held open" if abilities.can_hold is False else "is not known to be holdable"
        many = "" if space.plan.rungs.many == "use" else ', or rungs.many = "use"'
        return (
            f"{what}: {abilities.name} {known}, its longest time is {with_unit(abilities.times[-1].label)}; {near}. "
            f"Reachable with a body that can be held{many}."
        )
    remedies = _filter_remedy(space, wanted)
    remedies = [*_light_remedies(space, -off), *remedies] if off < 0 else [*remedies, "a narrower aperture"]
    amount = f"{in_stops(abs(off))} of light too {'little' if off < 0 else 'much'}"
    return f"{what}: {amount}; {near}. Reachable with {' or '.join(remedies) or 'more light'}."
