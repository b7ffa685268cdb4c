"""The planner's reasons in one line each: why a choice was made, what another would cost, what cannot be had."""

from __future__ import annotations

from collections.abc import Sequence
from math import log2, sqrt

from tether.exposure.filters import Filter
from tether.exposure.labels import time_label, with_unit
from tether.exposure.marks import Mark
from tether.exposure.noise import noise_gain
from tether.exposure.stops import aperture_stops, iso_stops, time_stops
from tether.plan.choices import AT_BASE_ISO, Space, allowed_apertures, allowed_isos, best_many
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
        burns = "so white water clips sooner"
        return f"extended ISO {choice.iso.label} costs {in_stops(lost)} of highlight headroom, {burns}"
    if abs(more) < 0.05:
        return ""
    return f"ISO {choice.iso.label} {'pays' if more > 0 else 'gives back'} {in_stops(abs(more))}"


def _way_words(choice: Choice) -> str:
    if choice.way == "held":
        return "bulb, so the time takes up all rounding"
    if choice.way == "many":
        return (
            f"{choice.frames} frames of {with_unit(choice.time_label)} stand for {choice.stands_for_s:.0f} s: averaged "
            f"as bright as one of them with noise {noise_gain(choice.frames):.1f} times lower"
        )
    return ""


def reason(plan: Plan, choice: Choice, base_iso: float, stays_on: bool) -> str:
    """Say in one line how a rung is made; `stays_on`: its filters were on for the rung before."""
    verb = "carries" if len(choice.stack) == 1 else "carry"
    carries = f"{stack_name(choice.stack)} {verb} {in_stops(choice.filter_stops)}" if choice.stack else "no ND filter"
    if choice.stack and stays_on:
        carries += " and stays on" if len(choice.stack) == 1 else " and stay on"
    paid = [words for words in (_aperture_words(plan, choice), _iso_words(plan, choice, base_iso)) if words]
    parts = [carries, *(paid or ["aperture and ISO as in the base"]), _way_words(choice)]
    if choice.darker_by_stops >= 0.05:
        parts.append(f"{in_stops(choice.darker_by_stops)} darker, as darker_by asks")
    return "; ".join(part for part in parts if part)


def bracket_words(choice: Choice, of: Choice, asked: Mark, stops: float) -> str:
    """Say what a frame of a bracket is beside its rung, which was asked for as a time."""
    brighter = f"{in_stops(abs(stops))} {'brighter' if stops > 0 else 'darker'}"
    how = with_unit(time_label(choice.time_s)) if choice.time_s != of.time_s else f"ISO {choice.iso.label}"
    return f"{brighter} than {with_unit(asked.label)}, to blend with it: by {how}"


def _sharp_words(choice: Choice, base_aperture: float) -> str:
    narrower = choice.aperture.exact > base_aperture
    if choice.paid.sharp_stops < 0:
        return "deeper" if narrower else "less diffraction"
    return "diffraction" if narrower else "blur at the edges of the depth"


def paid_words(choice: Choice, touches_stops: float, base_aperture: float) -> str:
    """Say what a way costs and with what it is paid, touches included: "1.34 stops (noise 1.00, touches 0.34)"."""
    paid = choice.paid
    light = [
        ("noise" if paid.noise_stops > 0 else "less noise", paid.noise_stops),
        (_sharp_words(choice, base_aperture), paid.sharp_stops),
        ("darker by rounding", paid.dark_stops),
    ]
    other = [
        ("highlights", paid.headroom_stops),
        ("colour cast", paid.tint_stops),
        ("touches" if touches_stops > 0 else "filter changes saved", touches_stops),
    ]
    shown = [one for one in (light if paid.light_stops > 0 else []) + other if abs(one[1]) >= 0.015]
    total = paid.stops + touches_stops
    if not shown:
        return "nothing"
    what = ", ".join(f"{name} {stops:.2f}" for name, stops in shown)
    return f"{total:.2f} {'stop' if abs(total) <= 1 else 'stops'} ({what})"


def way_words(choice: Choice) -> str:
    """Describe a way by its settings."""
    time = f"bulb {time_label(choice.time_s)}" if choice.way == "held" else with_unit(choice.time_label)
    if choice.way == "many":
        time = f"{choice.frames} × {time}"
    return ", ".join((time, choice.aperture.label, f"ISO {choice.iso.label}", stack_name(choice.stack)))


def _filter_remedy(space: Space, wanted: Mark) -> list[str]:
    """Say which strength of filter would do, with apertures as the limits allow and ISO no higher than the base's."""
    longer = time_stops(wanted.exact, space.plan.base.time.exact)
    stops = [pair.stops for pair in space.pairs if pair.rank_slower < AT_BASE_ISO] or space.pair_stops
    weakest, strongest = longer - max(stops), longer - min(stops)
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


def unreached_sentence(space: Space, wanted: Mark, made: Mark | None, *, is_there: bool) -> str:
    """Say why a rung cannot be had, what is made instead, and what would make it reachable.

    Parameters
    ----------
    made
        The nearest time that can be had; None: there is none.
    is_there
        Whether there is a rung of that time already.
    """
    what = with_unit(wanted.label)
    abilities, limits = space.abilities, space.plan.limits
    if made is None:
        return f"{what}: nothing within the limits can be exposed at all; widen limits.aperture or limits.iso."
    instead = f"{with_unit(made.label)}, the nearest possible, is "
    instead += "a rung already" if is_there else "made instead"
    if limits.longest and wanted.exact > limits.longest.exact * 1.01:
        return (
            f"{what}: longer than limits.longest of {with_unit(limits.longest.label)}; {instead}. "
            "Raise it to have this rung."
        )
    off = log2(wanted.exact / made.exact)
    if wanted.exact > abilities.times[-1].exact * 1.1 and not abilities.can_hold:
        known = "has no bulb" if abilities.can_hold is False else "is not known to have bulb"
        return (
            f"{what}: {abilities.name} {known}, its longest time is {with_unit(abilities.times[-1].label)}; {instead}. "
            f"Possible with a body that has bulb{_many_words(space, wanted)}."
        )
    remedies = _filter_remedy(space, wanted)
    remedies = [*_light_remedies(space, -off), *remedies] if off < 0 else remedies
    amount = f"{in_stops(abs(off))} of light too {'little' if off < 0 else 'much'}"
    return f"{what}: {amount}; {instead}. Possible with {' or '.join(remedies) or 'more light'}."


def _many_words(space: Space, wanted: Mark) -> str:
    """Name the many short frames that would stand for a long one, where the plan does not forbid them."""
    if space.plan.rungs.many != "offer":
        return ""
    found = (best_many(space, wanted, stack) for stack in range(len(space.stacks)))
    many = min((one for one in found if one is not None), key=lambda one: one.price, default=None)
    return "" if many is None else f', or as {way_words(many)} with rungs.many = "use"'
