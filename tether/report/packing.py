"""What to pack for a ladder, in the order in which it is needed at the lens; and what can stay at home."""

from __future__ import annotations

from dataclasses import dataclass

from tether import wording as words
from tether.journal.planned import PlannedLadder

#: What a frame that is open longer than this needs stands on a tripod [s] (common practice, no source).
_BY_HAND_S = 1 / 30
#: What a long evening is packed with beside it: a spare battery from here on [s] (own choice).
_LONG_S = 3600.0


@dataclass(frozen=True, kw_only=True)
class Packing:
    """What to pack.

    Attributes
    ----------
    fit
        What is put on and taken off the lens, in order, with the rung before which it is.
    bring
        What else is needed.
    leave
        Filters on hand that this ladder does not use.
    """

    fit: tuple[str, ...]
    bring: tuple[str, ...]
    leave: tuple[str, ...]


def packing(planned: PlannedLadder) -> Packing:
    """Return what to pack for a ladder."""
    used = list(dict.fromkeys(name for rung in planned.rungs for name in rung.filters))
    always = [one.name for one in planned.base.filters]
    first = [f"{' and '.join(always)}: on the lens from the beginning"] if always else []
    return Packing(
        fit=(*first, *(f"{turn.what}, {words.before(turn.before_rung)}" for turn in planned.turns)),
        bring=_bring(planned, [name for name in used if name not in always]),
        leave=tuple(one.name for one in planned.filters_on_hand if one.name not in used),
    )


def _bring(planned: PlannedLadder, filters: list[str]) -> tuple[str, ...]:
    """Return what is needed beside the camera, filters in the order in which they are first fitted."""
    found = [f"filters, the first one on top: {', '.join(filters)}"] if filters else []
    if any(rung.time_s > _BY_HAND_S for rung in planned.rungs):
        found.append("a tripod")
    found.append(f"room for {planned.frames} raw frames on the card, and a charged battery")
    if planned.forecast_s >= _LONG_S:
        found.append("a second battery")
    if any("cap" in turn.kind for turn in planned.turns):
        found.append("the lens cap")
    return (*found, "a cloth for the glass")
