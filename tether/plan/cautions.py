"""Short cautions for the place and the filters at hand. Each defers to local signs, wardens and rules.

Sources: photographic filters are no solar viewers, ISO 12312-2:2015 (scope: filters for direct observation of the
sun); wet rock and edges, notices of the US National Park Service and Forest Service; tides, HM Coastguard and RNLI;
light and a way to call, RNLI and common practice; capping between frames with the sun in the picture, common practice;
weirs and ice, public notices of those who keep waterways, from memory; power in rain, common practice.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from tether.plan.file import Place

_ROCK = "Wet rock is slippery: keep a body length from the edge and behind any rail; local signs and wardens decide."
_WATER = {
    "river": "Water rises fast, and a crossing on the way in may be gone on the way back; never wade above a fall.",
    "coast": "Read the tide table for this place first, know the way off and leave early: the tide can close behind "
    "you. Coastguard and local rules decide.",
    "weir": "A weir's undertow holds down whoever falls in, and water may be released without warning: stay out of the "
    "channel; at a siren, or where the water rises, leave at once. Local signs and who keeps it decide.",
    "lake": "",
}
_ICE = "Ice: on rock and steps it can't be seen in poor light, at the water's edge it gives way; local warnings decide."
_DRY = (
    "In rain and spray keep power banks, open ports and cable ends in a dry bag, openings down; what got wet is "
    "unplugged and stays so. The makers' rules decide."
)
_SUN = (
    "A photographic filter is not a solar viewer, however strong or stacked: never look at the Sun through it or "
    "through an optical viewfinder; use only filters made for that (ISO 12312-2) and follow their maker's rules."
)
_SUN_IN_FRAME = (
    "With the Sun in the frame focus by live view in short looks, never through an optical viewfinder; cap the lens "
    "between frames, and before a dark filter comes off."
)
_DARK = "For long waits near dark carry a light, warm clothes and a way to call for help; go if lightning is about."

#: A stack from here on tempts people to look at the sun through it [stops].
STRONG_STOPS = 6.0
#: A ladder from here on is a long wait [s].
LONG_WAIT_S = 600.0


#: Said with every task at the coast (as HM Coastguard and RNLI have it: never turn your back on the sea).
SEA_FIRST = "Look at the sea first, and step back from it"
#: And every so often while the person waits [s].
SEA_EVERY_S = 600.0


#: Said with every task that takes a filter off while the sun may be up.
SUN_OFF = "Nothing dims the Sun now: do not look at it through lens or viewfinder"

#: The way back is walked in so much more time (own choice).
_WAY_BACK = timedelta(minutes=30)
_IN_DARK = "know the way back in the dark, and have a headlamp and a spare light; the lamp is always allowed."


def cautions(place: Place, strongest_stops: float, total_s: float) -> tuple[str, ...]:
    """Return the cautions that apply, most urgent first."""
    found = [_ROCK, _WATER[place.water], _ICE if place.cold else "", _DRY]
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


def dark_caution(place: Place, begins: datetime | None, total_s: float) -> str | None:
    """Say that the way back is in the dark, by the sun's altitude; None where it is not, or that is not known.

    Parameters
    ----------
    begins
        When the ladder begins, aware; None: not known.
    total_s
        How long it takes [s].
    """
    spot = place.spot
    if spot is None or begins is None:
        return None
    from tether.light.sun import CIVIL, altitude, passes  # it loads what only a plan with a place needs

    back = begins + timedelta(seconds=total_s) + _WAY_BACK
    if altitude(spot, back) >= CIVIL:
        return None
    dusk = passes(spot, CIVIL, begins, back, rising=False)
    if dusk is None:
        return f"It is dark here (by the Sun, past civil twilight): {_IN_DARK}"
    return (
        f"It gets dark here at {dusk.astimezone():%H:%M}, before you are back (by the Sun, civil twilight): {_IN_DARK}"
    )


def sun_at(place: Place, utc: datetime) -> bool:
    """Say whether the sun may blind someone at a moment: it is up, or in the frame and not known to be down."""
    if place.spot is None:
        return place.sun_in_frame
    from tether.light.sun import HORIZON, altitude  # it loads what only a plan with a place needs

    return altitude(place.spot, utc) > HORIZON
