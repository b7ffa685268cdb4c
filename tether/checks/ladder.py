"""What a ladder needs of its body, held against what the body offers as it now stands: checks before a run."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from tether.body.bodyfile import BodyFile
from tether.body.protocol import Finding, Offers, Status
from tether.checks.findings import note, ok, stop
from tether.exposure.abilities import Abilities
from tether.exposure.labels import with_unit
from tether.exposure.marks import Mark
from tether.plan.file import Plan
from tether.plan.ladder import Ladder
from tether.plan.takes import BODY_DARK_OVER_S
from tether.shot.shot import Shot, shot_of_dark, shot_of_proof, shot_of_rung
from tether.wording import planned_time, span

#: The name under which body files have the body's own dark frames looked at.
DARK_FRAME = "dark frame by the body"
#: Between these a body shakes itself most, by shutter and mirror [s] (common practice, no source).
SHAKEN_S = (1 / 30, 1.0)
#: A battery near freezing gives half to two thirds of what it has (common practice, no source).
COLD_SHARE = 0.5
#: Times are equal within this factor.
_SAME = 1.01
#: How many values a sentence names.
_NAMED = 4


def shots_of(ladder: Ladder) -> tuple[Shot, ...]:
    """Return everything a ladder asks of the body, one each: rungs, proofs, dark frames.

    Dark frames that are only offered ask for nothing that their rungs do not.
    """
    rungs = [shot_of_rung(rung, rung.choice) for rung in ladder.rungs]
    proofs = [shot_of_proof(rung, rung.proof) for rung in ladder.rungs if rung.proof]
    return (*rungs, *proofs, *(shot_of_dark(dark) for dark in ladder.darks if not dark.offered))


def places(shots: Sequence[Shot]) -> str:
    """Say where shots stand in the ladder: ``rungs 1 to 4, 7``, ``the proof of rung 9``, ``the dark frames``."""
    parts = []
    if numbers := [shot.rung for shot in shots if shot.kind == "rung" and shot.rung is not None]:
        parts.append(_numbered("rung", numbers))
    if numbers := [shot.rung for shot in shots if shot.kind == "proof" and shot.rung is not None]:
        parts.append(f"the test exposure of {_numbered('rung', numbers)}")
    if any(shot.kind == "dark" for shot in shots):
        parts.append("the dark frames")
    return " and ".join(parts)


def _numbered(word: str, numbers: Sequence[int]) -> str:
    ordered = sorted(set(numbers))
    starts = [ordered[0], *(after for before, after in pairwise(ordered) if after != before + 1)]
    ends = [*(before for before, after in pairwise(ordered) if after != before + 1), ordered[-1]]
    parts = [
        str(first) if first == last else f"{first}, {last}" if last == first + 1 else f"{first} to {last}"
        for first, last in zip(starts, ends, strict=True)
    ]
    return f"{word}{'s' if len(ordered) > 1 else ''} {', '.join(parts)}"


# Values


def times(shots: Sequence[Shot], offers: Offers) -> Finding:
    """Look whether the body offers every time that it is to keep by itself."""
    timed = [shot for shot in shots if shot.way == "timed"]
    wanted = {shot.time_label: with_unit(shot.time_label) for shot in timed}
    missing = [shot for shot in timed if shot.time_label not in offers.times]
    remedy = "Turn its dial to M; if it is, name a body file in the plan that says what it has (tether body draft)."
    if not missing:
        return ok("times", f"All that the ladder needs are offered: {len(wanted)}.")
    if not offers.times:
        return stop("times", f"None can be set from here with its present settings. {remedy}")
    labels = _some(list(dict.fromkeys(wanted[shot.time_label] for shot in missing)))
    return stop("times", f"It does not offer {labels} with its present settings, for {places(missing)}. {remedy}")


def apertures(shots: Sequence[Shot], offers: Offers) -> Finding:
    """Look whether the body offers every aperture."""
    lit = [shot for shot in shots if shot.kind != "dark"]
    remedy = "Look at its dial (M) and at the lens: its ring on A, its range as in the plan."
    return _values("apertures", lit, {shot: shot.aperture.label for shot in lit}, offers.apertures, remedy)


def isos(shots: Sequence[Shot], offers: Offers) -> Finding:
    """Look whether the body offers every ISO value."""
    remedy = "Take automatic ISO off, or narrow limits.iso in the plan."
    return _values("ISO", shots, {shot: shot.iso.label for shot in shots}, offers.isos, remedy)


def _values(
    what: str, shots: Sequence[Shot], label_of: dict[Shot, str], offered: Sequence[str], remedy: str
) -> Finding:
    labels = list(dict.fromkeys(label_of.values()))
    missing = [shot for shot in shots if label_of[shot] not in offered]
    if not missing:
        return ok(what, f"All that the ladder needs are offered: {_some(labels)}.")
    if offered:
        named = _some([label for label in labels if label not in offered])
        return stop(what, f"It does not offer {named} with its present settings, for {places(missing)}. {remedy}")
    by_hand = "It can't be set from here."
    if len(labels) == 1:
        return note(what, f"{by_hand} Set {labels[0]} by hand and leave it: the whole ladder is made with it.")
    return stop(what, f"{by_hand} The ladder needs {_some(labels)}: narrow the plan's limits to one. {remedy}")


def holding(shots: Sequence[Shot], offers: Offers) -> Finding:
    """Look whether the shutter can be held open where a rung needs that."""
    held = [shot for shot in shots if shot.way == "held"]
    if not held:
        return ok("holding", "There is no bulb exposure in this ladder.")
    longest = planned_time(max(shot.time_s for shot in held))
    if offers.held_by is not None:
        return ok("holding", f"{_capital(places(held))}, up to {longest}, by its {offers.held_by}.")
    why = offers.why_not_held or "This body's shutter can't be held open from here."
    without = "Or plan without: can_hold = false under [hold] in a body file of your own."
    return stop("holding", f"{_capital(places(held))}, up to {longest}, need bulb. {why} {without}")


# What the person should know of this ladder


def shake(shots: Sequence[Shot], body_file: BodyFile) -> Finding:
    """Say how to expose without the body shaking itself, where rungs lie in the times that show it."""
    low_s, high_s = SHAKEN_S
    rungs = [shot for shot in shots if shot.kind == "rung"]
    shaken = [shot for shot in rungs if low_s / _SAME <= shot.time_s <= high_s * _SAME]
    if not shaken or body_file.simulated:
        why = "A simulated body does not shake." if shaken else "No rung lies between 1/30 s and 1 s."
        return ok("shake", why)
    where = f"{_capital(places(shaken))}: between 1/30 s and 1 s a body shakes itself (common practice, no source)."
    ways = [_way(name, how.how, how.shortest, rungs) for name, how in body_file.shutter.items()]
    return note("shake", " ".join([where, *(ways or ["Use an electronic first curtain or the mirror up, if it can."])]))


def _way(name: str, how: str, shortest: Mark | None, rungs: Sequence[Shot]) -> str:
    too_short = [shot for shot in rungs if shortest is not None and shot.time_s * _SAME < shortest.exact]
    capped = f" (not for {places(too_short)}: too short for it)" if too_short else ""
    return f"{_capital(name)}{capped}: {how.rstrip('.')}."


def finder(shots: Sequence[Shot], abilities: Abilities) -> Finding:
    """Say whether the finder is to be covered."""
    long = [shot for shot in shots if shot.kind == "rung" and shot.time_s >= 1.0]
    if abilities.optical_finder is False:
        return ok("finder", "It has no optical viewfinder to cover.")
    if not long:
        return ok("finder", "No rung is long enough for the viewfinder to matter.")
    has = "Cover the optical viewfinder" if abilities.optical_finder else "If it has an optical viewfinder, cover it"
    return note("finder", f"{has} for {places(long)}; you are asked when it is due.")


def dark_frames(looked: Finding, plan: Plan, shots: Sequence[Shot]) -> Finding:
    """Hold what the camera says of its own dark frames against the plan."""
    planned = plan.run.dark_frames == "by the body"
    on = looked.verdict != "ok"
    if on == planned or not any(shot.time_s >= BODY_DARK_OVER_S for shot in shots):
        return ok(DARK_FRAME, f"It says {looked.says}, as planned.")
    if planned:
        return note(DARK_FRAME, f'It says {looked.says}, but the plan has dark_frames = "by the body". Switch it on.')
    return note(
        DARK_FRAME, f"It says {looked.says}: each long frame will take twice as long. Switch it off, as planned."
    )


# Supplies


def card(ladder: Ladder, status: Status) -> Finding:
    """Hold the room on the card against the frames of the ladder."""
    frames, left = len(ladder.exposures), status.card_frames_left
    what = "room on the card"
    if left is None:
        return note(what, f"The camera does not tell; the ladder makes {frames} frames.")
    if left <= 0:
        return stop(what, "There is none: put in a card, or another one.")
    if left < frames:
        return note(what, f"{left} frames; the ladder makes {frames}. You are asked for another card when it is due.")
    return ok(what, f"{left} frames; the ladder makes {frames}.")


def battery(ladder: Ladder, status: Status, body_file: BodyFile) -> Finding:
    """Hold the battery's charge against the time the ladder takes."""
    takes = f"the ladder takes {span(ladder.forecast.total_s)}"
    charge = status.battery
    if status.battery_low:
        return stop("battery", "The camera says that its battery is low: change it.")
    if charge is None:
        return note("battery", f"The camera does not tell its charge; {takes}. Begin with a full one.")
    if status.battery_wanted:
        return stop("battery", f"{charge:.0%}: change it.")
    if ladder.simulated:
        return ok("battery", f"{charge:.0%}; {takes}.")
    cold = "Near freezing expect half to two thirds of it (common practice, no source)."
    per_h = body_file.body.battery_per_h
    if per_h is None:
        return note("battery", f"{charge:.0%}; {takes}; how fast this body uses it up is not known. {cold}")
    needed = per_h * ladder.forecast.total_s / 3600.0
    if needed > charge * COLD_SHARE:
        return note("battery", f"{charge:.0%}; {takes}, by own measurement {needed:.0%}. {cold} Have another at hand.")
    return ok("battery", f"{charge:.0%}; {takes}, by own measurement {needed:.0%}.")


# Words


def _some(labels: Sequence[str]) -> str:
    if len(labels) <= _NAMED:
        return ", ".join(labels)
    return f"{', '.join(labels[: _NAMED - 1])} and {len(labels) - _NAMED + 1} more"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
