"""Where each frame's light went: its level against the base, split into what made it so.

level = wanted + rounding + changed + hold + light + rest

*wanted* is what the plan darkens on purpose, *rounding* what the body's lists leave, *changed* what was steered or
corrected, *hold* the time really open against the time asked, *light* the light itself, and the *rest* is what is left:
filters that are not what they say, apertures, leaks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from math import hypot, isfinite, sqrt
from typing import NamedTuple

import numpy as np

from tether.exposure.stops import aperture_stops, iso_stops, time_stops
from tether.journal.planned import PlannedBase
from tether.journal.records import Applied
from tether.journal.story import FrameStory, LadderStory

#: Light wanders by at least so much [stops in the square root of a second] (own choice, no source).
LEAST_WANDER = 0.0006
#: Clouds go on for longer than from one frame to the next: over minutes the light wanders so many times as far as a
#: random walk of its short steps (from `tests.bench.audit_split`).
LASTING = 1.6
#: Steady drifts beyond this are not to be expected [stops/s], nor filters that are off by more than that [stops].
DRIFT, FILTER_OFF = 1 / 60, 2.0
#: No level is known better than this [stops]; apertures come back to the same opening within about so much (common
#: practice, no source), which counts for frames at another aperture than the base's.
LEVEL_STOPS, APERTURE_STOPS = 0.003, 0.05


@dataclass(frozen=True, kw_only=True)
class Split:
    """One frame's level against the base and its parts [stops], with the standard uncertainty of light and rest."""

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


class _Level(NamedTuple):
    """How bright a frame's rock was against the base, in green, and should have been [stops]."""

    green_stops: float
    expected_stops: float
    off_stops: float
    uncertainty_stops: float


def audit(ladder: LadderStory) -> tuple[Split, ...]:
    """Return the splits of a ladder's frames that could be read against its base, in the order they were taken."""
    base = ladder.planned.base if ladder.planned else None
    levels = [(frame, level) for frame in ladder.frames if (level := _level(frame)) is not None]
    read = [(frame, level) for frame, level in levels if _can_be_split(frame, level, base)] if base else []
    first = next((frame for frame in ladder.frames if frame.kind == "base"), None)
    if not base or not read or first is None:
        return ()
    seen = [Seen(at_s=_middle_s(first) or 0.0, off_stops=0.0, filters=(), uncertainty_stops=LEVEL_STOPS)]
    seen += [_seen(frame, level, base) for frame, level in read]
    told = light(seen)[1:]
    return tuple(_split(frame, level, ladder, base, *one) for (frame, level), one in zip(read, told, strict=True))


@dataclass(frozen=True, kw_only=True)
class Seen:
    """How much brighter than reckoned a frame was, the middle of it, and the filters it went through.

    Moments are seconds [s], ascending from one to the next; levels are stops, with their standard uncertainty.
    """

    at_s: float
    off_stops: float
    filters: tuple[str, ...]
    uncertainty_stops: float


def light(seen: Sequence[Seen]) -> list[tuple[float, float]]:
    """Return how much brighter the light was at each frame than at the first, and the standard uncertainty [stops].

    Each filter is off by as much in all frames that went through it; the light drifts steadily and wanders beside that
    like a random walk, as fast as frames through the same filters show. Both are found together by least squares.
    """
    filters = sorted({name for one in seen for name in one.filters})
    frames, unknown = len(seen), len(seen) + len(filters) + 1
    wander = _wander(seen)
    rows: list[tuple[dict[int, float], float, float]] = []  # coefficients, value, standard uncertainty
    for place, one in enumerate(seen):
        through = {frames + filters.index(name): 1.0 for name in one.filters}
        rows.append(({place: 1.0, **through}, one.off_stops, one.uncertainty_stops))
    for place, (one, after) in enumerate(pairwise(seen)):
        passed_s = max(after.at_s - one.at_s, _AT_ONCE_S)
        rows.append(({place: -1.0, place + 1: 1.0, unknown - 1: -passed_s}, 0.0, wander * sqrt(passed_s)))
    rows += [({frames + place: 1.0}, 0.0, FILTER_OFF) for place in range(len(filters))]
    rows.append(({unknown - 1: 1.0}, 0.0, DRIFT))
    matrix, values = np.zeros((len(rows), unknown)), np.zeros(len(rows))
    for row, (coefficients, value, uncertainty) in enumerate(rows):
        for place, coefficient in coefficients.items():
            matrix[row, place] = coefficient / uncertainty
        values[row] = value / uncertainty
    normal = matrix.T @ matrix
    try:
        covariance = np.linalg.inv(normal)
    except np.linalg.LinAlgError:  # what nothing tells apart is split evenly
        covariance = np.linalg.pinv(normal)
    solved = covariance @ (matrix.T @ values)
    return [(float(solved[place] - solved[0]), float(sqrt(covariance[place, place]))) for place in range(frames)]


#: Frames closer than this are taken to be so far apart [s].
_AT_ONCE_S = 0.1


def _wander(seen: Sequence[Seen]) -> float:
    """Return how fast the light wanders beside its drift, by frames that follow each other through the same filters."""
    steps = [
        (after.off_stops - one.off_stops, max(after.at_s - one.at_s, _AT_ONCE_S))
        for one, after in pairwise(seen)
        if one.filters == after.filters
    ]
    if not steps:
        return LEAST_WANDER
    drift = sum(step for step, _ in steps) / sum(passed_s for _, passed_s in steps)
    squared = [(step - drift * passed_s) ** 2 / passed_s for step, passed_s in steps]
    return max(LASTING * sqrt(sum(squared) / len(squared)), LEAST_WANDER)


def _split(
    frame: FrameStory,
    level: _Level,
    ladder: LadderStory,
    base: PlannedBase,
    light_stops: float,
    light_uncertainty: float,
) -> Split:
    wanted = -_darker_by(frame, ladder)
    planned, asked = _by_settings(frame, frame.planned, base), _by_settings(frame, frame.asked, base)
    return Split(
        frame=frame.frame,
        rung=frame.rung,
        kind=frame.kind,
        level_stops=level.green_stops,
        wanted_stops=wanted,
        rounding_stops=planned - wanted,
        changed_stops=asked - planned,
        hold_stops=level.expected_stops - asked,
        light_stops=light_stops,
        rest_stops=level.green_stops - level.expected_stops - light_stops,
        uncertainty_stops=hypot(light_uncertainty, _level_uncertainty(frame, level, base)),
    )


def _can_be_split(frame: FrameStory, level: _Level, base: PlannedBase) -> bool:
    """Say whether all is known of a frame that its split is worked out from, and is a number."""
    if _middle_s(frame) is None:
        return False
    try:
        seen = _seen(frame, level, base)
        numbers = (seen.at_s, seen.off_stops, seen.uncertainty_stops, level.green_stops)
        settings = (_by_settings(frame, frame.planned, base), _by_settings(frame, frame.asked, base))
        return all(map(isfinite, (*numbers, *settings)))
    except (ArithmeticError, ValueError):
        return False


def _level(frame: FrameStory) -> _Level | None:
    rock = frame.readings.rock if frame.readings else None
    if rock is None or rock.expected_stops is None or rock.off_stops is None:
        return None
    return _Level(rock.brighter_stops["G"], rock.expected_stops, rock.off_stops, rock.uncertainty_stops)


def _darker_by(frame: FrameStory, ladder: LadderStory) -> float:
    """Return how much darker than the base the plan wanted a frame [stops]: its rung's; 0 for others."""
    if frame.kind != "rung":
        return 0.0
    rung = ladder.planned.rung(frame.rung) if ladder.planned else None
    return rung.darker_by_stops if rung else 0.0


def _by_settings(frame: FrameStory, settings: Applied, base: PlannedBase) -> float:
    """Return how much brighter than the base settings are, through filters as they were reckoned [stops]."""
    return (
        time_stops(settings.time_s or base.time_s, base.time_s)
        + aperture_stops(settings.aperture or base.aperture, base.aperture)
        + iso_stops(settings.iso or base.iso, base.iso)
        - frame.filter_stops
    )


def _seen(frame: FrameStory, level: _Level, base: PlannedBase) -> Seen:
    return Seen(
        at_s=_middle_s(frame) or 0.0,
        off_stops=level.off_stops,
        filters=frame.filters,
        uncertainty_stops=_level_uncertainty(frame, level, base),
    )


def _level_uncertainty(frame: FrameStory, level: _Level, base: PlannedBase) -> float:
    same = frame.aperture is None or abs(aperture_stops(frame.aperture, base.aperture)) < 0.05
    return hypot(level.uncertainty_stops, LEVEL_STOPS, 0.0 if same else APERTURE_STOPS)


def _middle_s(frame: FrameStory) -> float | None:
    """Return the middle of an exposure as seconds of UTC; None where it is not known."""
    if frame.opened_utc is None:
        return None
    opened_s = datetime.fromisoformat(frame.opened_utc).timestamp()
    return opened_s + (frame.believed_open_s or 0.0) / 2
