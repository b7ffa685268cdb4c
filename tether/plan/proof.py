"""Test exposures: the quick frame through a stack when it is first fitted, and the bare one at its ISO before that.

At the rung's aperture, by an ISO so many stops up: at six, a second stands for about a minute (common practice, no
source). Opened up only where it would be longer than :data:`LONGEST_S`; the high ISO's own step is known from a frame
at it without glass.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import log2

from tether.exposure.abilities import Abilities
from tether.exposure.filters import Filter
from tether.exposure.marks import Mark, nearest
from tether.exposure.stops import aperture_stops, iso_stops, time_stops
from tether.plan.base import base_marks, base_wanted
from tether.plan.choices import allowed_isos
from tether.plan.file import Plan
from tether.plan.ladder import Choice, Proof, Rung

#: No longer than this where opening up makes it shorter, and no shorter than this where the rung is not [s].
LONGEST_S, SHORTEST_S = 15.0, 1 / 500

#: ISO values so many stops over those of bulb exposures are told, too: a correction may need them.
RESERVE_STOPS = (1.0, 2.0)


def with_proofs(plan: Plan, abilities: Abilities, rungs: Sequence[Rung]) -> Iterator[Rung]:
    """Yield the rungs with a test exposure before the first through each stack, and what is told before any glass."""
    on_lens: tuple[Filter, ...] = ()
    known = _Known(plan.base.aperture.exact)
    proofs = []
    for rung in rungs:
        proofs.append(None if known.tells(rung.choice) else proof_of(plan, abilities, rung.choice))
        known.saw(rung.choice)
    told = {plan.base.iso.exact}
    for at, (rung, proof) in enumerate(zip(rungs, proofs, strict=True)):
        bare: list[Proof] = []
        if base_wanted(plan) and proof and not on_lens:
            wanted = _isos(plan, abilities, rungs[at:]) | {one.iso.exact for one in proofs[at:] if one}
            isos = [iso for iso in abilities.isos if iso.exact in wanted - told]
            bare = [found for iso in isos if (found := bare_at(plan, abilities, iso))]
            told |= {one.iso.exact for one in bare}
        told |= set() if rung.fitted else {rung.choice.iso.exact}
        on_lens = rung.fitted
        yield replace(rung, proof=proof, bare=tuple(bare))


class _Known:
    """Which stacks and apertures the frames of a ladder have told, as far as it goes."""

    def __init__(self, base_aperture: float) -> None:
        self._bare = {base_aperture}
        self._through: set[tuple[frozenset[str], float]] = set()

    def saw(self, choice: Choice) -> None:
        """Take in the frames of a rung, its test exposure first."""
        stack = frozenset(one.name for one in choice.stack)
        self._through.add((stack, choice.aperture.exact))
        self._bare |= set() if stack else {choice.aperture.exact}

    def tells(self, choice: Choice) -> bool:
        """Say whether a rung needs no test: its stack was seen, for a bulb exposure by apertures that are known too."""
        stack, aperture = frozenset(one.name for one in choice.stack), choice.aperture.exact
        seen = {at for through, at in self._through if through == stack}
        if choice.way != "held":
            return bool(seen)
        return aperture in seen or (aperture in self._bare and bool(seen & self._bare))


def _isos(plan: Plan, abilities: Abilities, rungs: Sequence[Rung]) -> set[float]:
    """Return the ISO values of bulb exposures, and those that a correction of them may need."""
    held = {rung.choice.iso.exact for rung in rungs if rung.choice.way == "held"}
    reserve = {max(held) * 2**stops for stops in RESERVE_STOPS} if held else set()
    allowed = (mark.exact for mark in allowed_isos(plan, abilities))
    return held | {mark for mark in allowed if any(abs(mark / iso - 1) < 0.03 for iso in reserve)}


def proof_of(plan: Plan, abilities: Abilities, choice: Choice, darker_stops: float = 0.0) -> Proof | None:
    """Return the test exposure before a rung is made this way, or so much darker; None where none is of use or wanted.

    Without base frames nothing is read from it: then only bulb exposures get one, for the person to look at.
    """
    if not (plan.run.proof and choice.stack and (base_wanted(plan) or choice.way == "held")):
        return None
    return quick_of(plan, abilities, choice, darker_stops)


def quick_of(plan: Plan, abilities: Abilities, choice: Choice, darker_stops: float = 0.0) -> Proof:
    """Return the frame that is as bright as one made this way, or so much darker, and as quick as may be."""
    iso = _fast_iso(plan, abilities, choice)
    faster = iso_stops(iso.exact, choice.iso.exact)
    aperture = choice.aperture
    if choice.time_s / 2**faster > LONGEST_S:
        aperture = _wider(abilities, aperture, log2(choice.time_s / 2**faster / LONGEST_S))
    exact_s = choice.time_s / 2 ** (faster + aperture_stops(aperture.exact, choice.aperture.exact) + darker_stops)
    mark = nearest(abilities.times, exact_s)
    error = time_stops(mark.exact, exact_s)
    held = abs(error) > plan.limits.time_off_stops + 0.01 and abilities.shortest_hold_s <= exact_s
    return Proof(
        way="held" if held else "timed",
        time_s=exact_s if held else mark.exact,
        time_label="bulb" if held else mark.label,
        aperture=aperture,
        iso=iso,
        faster_by_stops=time_stops(choice.time_s, exact_s if held else mark.exact),
        error_stops=0.0 if held else error,
    )


def _fast_iso(plan: Plan, abilities: Abilities, choice: Choice) -> Mark:
    """Return the ISO of a test exposure: so many stops over the base's, and no faster than makes it too short."""
    room = max(log2(choice.time_s / SHORTEST_S), 0.0)
    most = min(plan.base.iso.exact * 2**plan.run.proof_stops, choice.iso.exact * 2**room)
    slower = [mark for mark in abilities.isos if choice.iso.exact * 0.97 <= mark.exact <= most * 1.03]
    return max(slower, key=lambda mark: mark.exact, default=choice.iso)


def _wider(abilities: Abilities, aperture: Mark, stops: float) -> Mark:
    """Return the aperture that is wider by so many stops, or as wide as the lens opens."""
    wide = [mark for mark in abilities.apertures if mark.exact <= aperture.exact * 1.01]
    enough = [mark for mark in wide if aperture_stops(mark.exact, aperture.exact) >= stops - 0.05]
    return max(enough, key=lambda mark: mark.exact, default=min(wide, key=lambda mark: mark.exact, default=aperture))


def bare_at(plan: Plan, abilities: Abilities, iso: Mark) -> Proof | None:
    """Return a frame as bright as the base or a little darker, without glass, at an ISO.

    None where the body can't time it, or is too slow for it.
    """
    marks = base_marks(plan, abilities)
    if marks is None:
        return None
    time, aperture, base_iso = marks
    faster = iso_stops(iso.exact, base_iso.exact)
    exact_s = time.exact / 2**faster
    short_enough = [mark for mark in abilities.times if exact_s * 0.5 <= mark.exact <= exact_s * 1.02]
    if not short_enough:
        return None
    mark = max(short_enough, key=lambda mark: mark.exact)
    return Proof(
        way="timed",
        time_s=mark.exact,
        time_label=mark.label,
        aperture=aperture,
        iso=iso,
        faster_by_stops=time_stops(time.exact, mark.exact),
        error_stops=time_stops(mark.exact, exact_s),
    )
