"""Where each frame's light went: its level against the base, split into what made it so.

level = wanted + rounding + changed + hold + light + rest

*wanted* is what the plan darkens on purpose, or what a frame of no rung was set for; *rounding* what the body's lists
leave of a rung; *changed* what was steered or corrected; *hold* the time really open against the time asked; *light*
the light itself; and the *rest* is what is left: filters that are not what they say, apertures, leaks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from math import hypot, isfinite
from typing import NamedTuple

from tether.errors import TetherError
from tether.exposure.stops import aperture_stops, iso_stops, time_stops
from tether.journal.planned import PlannedBase, PlannedRung
from tether.journal.records import Applied
from tether.journal.story import FrameStory, LadderStory
from tether.light.acting import Acting, Glass, terms_of
from tether.light.state import FrameTold, LightEstimate, LightSeen, LightState, told_after
from tether.plan.file import Plan, plan_from_text
from tether.plan.light_ahead import light_at_base

#: A frame that was not made as asked tells next to nothing of the light [stops, one standard deviation].
NOT_AS_ASKED_STOPS = 5.0
#: Filters that take so much more or less than planned are others [stops].
OTHER_FILTERS_STOPS = 0.01


@dataclass(frozen=True, kw_only=True)
class Split:
    """One frame's level against the base and its parts [stops], with the standard uncertainties of light and rest."""

    frame: int
    rung: int | None
    kind: str
    level_stops: float
    wanted_stops: float
    rounding_stops: float
    changed_stops: float
    hold_stops: float
    light_stops: float
    rest_stops: float
    uncertainty_stops: float
    rest_uncertainty_stops: float


class _Level(NamedTuple):
    """How bright a frame's rock was against the base, in green, and should have been [stops]."""

    green_stops: float
    expected_stops: float
    off_stops: float
    uncertainty_stops: float


def audit(ladder: LadderStory) -> tuple[Split, ...]:
    """Return the splits of a ladder's frames that could be read against its base, in the order they were taken."""
    read, base, first = _read(ladder)
    if not base or not read or first is None:
        return ()
    _, told = _light(ladder, first, read, base)
    return tuple(_split(frame, level, ladder, base, one) for (frame, level), one in zip(read, told, strict=True))


def off_by_frames(ladder: LadderStory) -> dict[str, LightEstimate]:
    """Return by how much frames came out brighter than each filter says that was on the lens in one of them [stops]."""
    read, base, first = _read(ladder)
    if not base or not read or first is None:
        return {}
    state, _ = _light(ladder, first, read, base)
    names = {name for frame, _ in read for name in frame.filters}
    return {name: state.term(name) for name in sorted(names)}


def _read(ladder: LadderStory) -> tuple[list[tuple[FrameStory, _Level]], PlannedBase | None, FrameStory | None]:
    """Return the frames that can be split, the base as planned, and the first base frame; None: there is none."""
    base = ladder.planned.base if ladder.planned else None
    levels = [(frame, level) for frame in ladder.frames if (level := _level(frame)) is not None]
    read = [(frame, level) for frame, level in levels if _can_be_split(frame, level, base)] if base else []
    return read, base, next((frame for frame in ladder.frames if frame.kind == "base"), None)


def _light(
    ladder: LadderStory, first: FrameStory, read: Sequence[tuple[FrameStory, _Level]], base: PlannedBase
) -> tuple[LightState, list[FrameTold]]:
    """Return what all frames tell, and of each how much brighter the light was than at the first."""
    glass = {one.name: one for one in ladder.planned.filters_on_hand} if ladder.planned else {}
    of_base = Acting(filters=(), aperture=base.aperture, iso=base.iso)
    seen = [_seen(frame, level, of_base, glass) for frame, level in read]
    in_order = sorted(range(len(seen)), key=lambda at: seen[at].middle_s)
    plan, base_s = plan_of(ladder), middle_s(first) or 0.0
    begun = light_at_base(plan, datetime.fromtimestamp(base_s, UTC), base_s) if plan else LightState.at_base(base_s)
    state, told = told_after([seen[at] for at in in_order], begun)
    found = dict(zip(in_order, told, strict=True))
    return state, [found[at] for at in range(len(seen))]


def plan_of(ladder: LadderStory) -> Plan | None:
    """Return the plan of a ladder as it stood; None where this program can't read it any more."""
    try:
        return plan_from_text(ladder.plan_text)
    except TetherError:
        return None


def _split(
    frame: FrameStory,
    level: _Level,
    ladder: LadderStory,
    base: PlannedBase,
    told: FrameTold,
) -> Split:
    rung = _planned_rung(frame, ladder)
    asked = _by_settings(frame, frame.asked, base)
    # Through other filters than planned its settings are for another light: only the ladder tells its rounding.
    refitted = rung is not None and abs(rung.filter_stops - frame.filter_stops) > OTHER_FILTERS_STOPS
    planned = _by_settings(frame, frame.planned, base)
    if rung and refitted:
        planned = rung.error_stops - rung.darker_by_stops
    wanted = -rung.darker_by_stops if rung else planned
    return Split(
        frame=frame.frame,
        rung=frame.rung,
        kind=frame.kind,
        level_stops=level.green_stops,
        wanted_stops=wanted,
        rounding_stops=planned - wanted,
        changed_stops=asked - planned,
        hold_stops=level.expected_stops - asked,
        light_stops=told.light.stops,
        rest_stops=level.green_stops - level.expected_stops - told.light.stops,
        uncertainty_stops=told.light.doubt_stops,
        rest_uncertainty_stops=hypot(told.terms.doubt_stops, level.uncertainty_stops),
    )


def _can_be_split(frame: FrameStory, level: _Level, base: PlannedBase) -> bool:
    """Say whether all is known of a frame that its split is worked out from, and is a number."""
    if middle_s(frame) is None:
        return False
    try:
        numbers = (level.off_stops, level.uncertainty_stops, level.green_stops)
        settings = (_by_settings(frame, frame.planned, base), _by_settings(frame, frame.asked, base))
        return all(map(isfinite, (*numbers, *settings)))
    except (ArithmeticError, ValueError):
        return False


def _level(frame: FrameStory) -> _Level | None:
    rock = frame.readings.rock if frame.readings and not frame.readings.rock_clipped else None
    if rock is None or rock.expected_stops is None or rock.off_stops is None:
        return None
    return _Level(rock.brighter_stops["G"], rock.expected_stops, rock.off_stops, rock.uncertainty_stops)


def _planned_rung(frame: FrameStory, ladder: LadderStory) -> PlannedRung | None:
    """Return what the plan wanted of a frame; None: it is of no rung."""
    if frame.kind != "rung" or ladder.planned is None:
        return None
    return ladder.planned.rung(frame.rung)


def _by_settings(frame: FrameStory, settings: Applied, base: PlannedBase) -> float:
    """Return how much brighter than the base settings are, through filters as they were reckoned [stops]."""
    return (
        time_stops(settings.time_s or base.time_s, base.time_s)
        + aperture_stops(settings.aperture or base.aperture, base.aperture)
        + iso_stops(settings.iso or base.iso, base.iso)
        - frame.filter_stops
    )


def _seen(frame: FrameStory, level: _Level, base: Acting, glass: Mapping[str, Glass]) -> LightSeen:
    acting = Acting(filters=frame.filters, aperture=frame.aperture or base.aperture, iso=frame.asked.iso or base.iso)
    open_s = frame.believed_open_s or 0.0
    return LightSeen(
        opened_s=(middle_s(frame) or 0.0) - open_s / 2,
        open_s=open_s,
        off_stops=level.off_stops,
        doubt_stops=NOT_AS_ASKED_STOPS if not frame.as_asked else level.uncertainty_stops,
        terms=terms_of(acting, base, glass),
    )


def middle_s(frame: FrameStory) -> float | None:
    """Return the middle of an exposure as seconds of UTC; None where it is not known."""
    if frame.opened_utc is None:
        return None
    opened_s = datetime.fromisoformat(frame.opened_utc).timestamp()
    return opened_s + (frame.believed_open_s or 0.0) / 2
