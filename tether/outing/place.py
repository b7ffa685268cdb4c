"""A place, as outings there tell of it: what was done and kept, how it was framed last, and its filters as measured."""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, hypot, radians

from tether.journal.telling import read_outing
from tether.outing.strengths import strengths
from tether.plan.file import Place
from tether.report.done_before import OutingDone
from tether.report.filters_told import Strength
from tether.report.place import Framing, PlaceKnown

#: Two spots no farther apart are one place (own choice) [m].
SAME_PLACE_M = 200.0
#: A degree of latitude on a sphere of the earth's mean radius, 6371 km [m].
_DEGREE_M = 111_195.0


def is_same_place(one: Place, other: Place) -> bool:
    """Say whether two places are one: they have the same name, or are not far apart."""
    if one.name and one.name.casefold() == other.name.casefold():
        return True
    here, there = one.spot, other.spot
    if here is None or there is None:
        return False
    east_deg = (here.longitude - there.longitude + 180) % 360 - 180
    east_m = east_deg * _DEGREE_M * cos(radians(here.latitude))
    return hypot(east_m, (here.latitude - there.latitude) * _DEGREE_M) <= SAME_PLACE_M


def place_known(place: Place, outings: Sequence[OutingDone]) -> PlaceKnown:
    """Return what outings tell of a place.

    Raises
    ------
    TetherError
        If the journal of one of them, or the user's own file of filters, can't be read.
    """
    there = tuple(one for one in outings if any(is_same_place(place, ladder.place) for ladder in one.ladders))
    return PlaceKnown(place=place, outings=there, framing=_framing(place, there), filters=_filters(place, there))


def _framing(place: Place, outings: Sequence[OutingDone]) -> Framing | None:
    framed = [
        Framing(preview=one.folder / ladder.framing, begun_utc=one.begun_utc)
        for one in outings
        for ladder in one.ladders
        if ladder.framing and is_same_place(place, ladder.place)
    ]
    return next((one for one in reversed(framed) if one.preview.exists()), None)


def _filters(place: Place, outings: Sequence[OutingDone]) -> tuple[Strength, ...]:
    """Return what is known best of the filters that were on hand at a place."""
    told = [
        (one.folder.name, ladder)
        for one in outings
        for ladder, done in zip(read_outing(one.folder).ladders, one.ladders, strict=False)
        if is_same_place(place, done.place)
    ]
    on_hand = {each.name for _, ladder in told if ladder.planned for each in ladder.planned.filters_on_hand}
    return tuple(one for (name, _), one in sorted(strengths(told).items()) if name in on_hand)
