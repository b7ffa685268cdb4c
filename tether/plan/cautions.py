"""Short cautions for the place and the filters at hand. Each defers to local signs, wardens and rules.

Sources: photographic filters are no solar viewers, ISO 12312-2:2015 (scope: filters for direct observation of the
sun); wet rock and edges, notices of the US National Park Service and Forest Service; tides, HM Coastguard and RNLI;
light and a way to call, RNLI and common practice; capping between frames with the sun in the picture, common practice.
"""

from __future__ import annotations

from tether.plan.file import Place

_ROCK = "Wet rock is slippery: keep a body length from the edge and behind any rail; local signs and wardens decide."
_WATER = {
    "river": "Water rises fast, and a crossing on the way in may be gone on the way back; never wade above a fall.",
    "coast": "Read the tide table for this place first, know the way off and leave early: the tide can close behind "
    "you. Coastguard and local rules decide.",
    "lake": "",
}
_SUN = (
    "A photographic filter is not a solar viewer, however strong or stacked: never look at the Sun through it or "
    "through an optical viewfinder; use only filters made for that (ISO 12312-2) and follow their maker's rules."
)
_SUN_IN_FRAME = "With the Sun in the frame use live view in short looks, and cap the lens between frames."
_DARK = "For long waits near dark carry a light, warm clothes and a way to call for help; go if lightning is about."

#: A stack from here on tempts people to look at the sun through it [stops].
STRONG_STOPS = 6.0
#: A ladder from here on is a long wait [s].
LONG_WAIT_S = 600.0


#: Said with every task at the coast (as HM Coastguard and RNLI have it: never turn your back on the sea).
SEA_FIRST = "Look at the sea first, and step back from it"
#: And every so often while the person waits [s].
SEA_EVERY_S = 600.0


def cautions(place: Place, strongest_stops: float, total_s: float) -> tuple[str, ...]:
    """Return the cautions that apply, most urgent first."""
    found = [_ROCK, _WATER[place.water]]
    if strongest_stops >= STRONG_STOPS or place.sun_in_frame:
        found.insert(0, _SUN)
    if place.sun_in_frame:
        found.insert(1, _SUN_IN_FRAME)
    if total_s >= LONG_WAIT_S:
        found.append(_DARK)
    return tuple(one for one in found if one)


def sun_cautions(*, sun_up: bool, dark: bool) -> tuple[str, ...]:
    """Return the cautions for a time out in which the sun is up, or it gets dark."""
    return tuple(text for text, applies in ((_SUN, sun_up), (_DARK, dark)) if applies)
