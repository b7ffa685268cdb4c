"""How values are written for people: one place, so that table, sheet and picture say a thing alike."""

from __future__ import annotations

import math
import os
import shlex
from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path

from tether.exposure.labels import time_label, with_unit
from tether.exposure.marks import Mark, Step, aperture_marks, iso_marks, nearest

NOT_KNOWN = "–"
REGIONS = {
    "given": "as given in the plan",
    "confirmed": "proposed from what moves, and confirmed",
    "as proposed": "as proposed from what moves, allowed by the plan",
    "proposed": "proposed from what moves; nobody said whether they are right",
    "refused": "proposed from what moves, and said to be wrong: nothing is compared or corrected by them from then on",
}
LOCAL_RULES = "Local signs, wardens and rules count for more than anything that is said here."
SIMULATED = "SIMULATED – no camera took these: the frames come from the simulated body."
#: Said beside times of day that are of a rehearsal's clock, which goes faster than the day, and not of the day.
REHEARSED_TIME = "(rehearsed time)"
#: Said wherever a lens is focused.
SUN_WHEN_FOCUSING = (
    "Never look at the sun through a viewfinder or a photographic filter. With the sun in the picture or near it, use"
    " live view in short looks, and cap the lens in between."
)
#: Below this, people think in fractions of a second [s].
_FRACTIONS_BELOW_S = 0.3
#: Fewer stops than this are written as none.
_NO_STOPS = 0.005
#: From so far on, as a fraction, it is said what a time written so is exactly.
_FAR_FROM_MARK = 0.03
#: A value this near to a mark of the scale, as a fraction, is that mark.
_IS_MARK = 0.01


def planned_time(time_s: float | None) -> str:
    """Write a time as people name it: ``1/125 s``, ``2 s``, ``4:16 min``."""
    return with_unit(time_label(time_s)) if time_s else NOT_KNOWN


def exact_mark(times_s: Iterable[float]) -> str:
    """Say of the longest time whose mark is written far from what it is exactly how that comes; empty: there is none.

    ``15 s is a mark, exactly 16 s: ...``
    """
    for time_s in sorted((one for one in times_s if one >= _FRACTIONS_BELOW_S), reverse=True):
        label = time_label(time_s)
        if ":" not in label and abs(float(label) / time_s - 1) > _FAR_FROM_MARK:
            exact = f"{time_s:.2f}".rstrip("0").rstrip(".")
            return f"{label} s is a mark, exactly {exact} s: marks are a second doubled and halved, written rounded."
    return ""


def measured_time(time_s: float | None) -> str:
    """Write a time that was really found, with the figures that matter: ``1/1000 s``, ``2.004 s``, ``124.30 s``."""
    if not time_s:
        return NOT_KNOWN
    if time_s < _FRACTIONS_BELOW_S:
        return with_unit(time_label(time_s))
    return f"{time_s:.3f} s" if time_s < 100 else f"{time_s:.2f} s"


def span(seconds: float) -> str:
    """Write how long something takes: ``45 s``, ``10 min``, ``1 h 05 min``."""
    if seconds < 90:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 90 else f"{minutes // 60} h {minutes % 60:02d} min"


def countdown(left_s: float) -> str:
    """Write a countdown in figures: ``4.2``, ``0:38``, ``12:05``, ``1:02:00``; it is over at ``0.0``."""
    if left_s < 9.95:
        return f"{max(left_s, 0.0):.1f}"
    minutes, seconds = divmod(math.ceil(left_s), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{seconds:02d}" if hours else f"{minutes}:{seconds:02d}"


def stops(value: float | None) -> str:
    """Write a signed number of stops to a hundredth: ``+0.07``, ``0.00``."""
    if value is None:
        return NOT_KNOWN
    return f"{value:+.2f}" if abs(value) >= _NO_STOPS else "0.00"


def brighter(stops: float) -> str:
    """Write how much brighter or darker something is: ``0.33 stop darker``, ``1.40 stops darker``."""
    return f"{_amount(stops)} {'brighter' if stops > 0 else 'darker'}"


def _amount(stops: float) -> str:
    return f"{abs(stops):.2f} {'stop' if abs(stops) < 1.005 else 'stops'}"


def settings_changed(time_stops: float, aperture_stops: float, iso_stops: float) -> str:
    """Write which settings let in more (positive) or less light: ``opened 0.67 stop longer, ISO 0.33 stop higher``."""
    parts = (
        ("opened", time_stops, "longer", "shorter"),
        ("aperture", aperture_stops, "wider", "narrower"),
        ("ISO", iso_stops, "higher", "lower"),
    )
    return ", ".join(
        f"{what} {_amount(stops)} {more if stops > 0 else less}"
        for what, stops, more, less in parts
        if abs(stops) >= _NO_STOPS
    )


def kind(stored: str) -> str:
    """Write the kind of a frame: ``base``, ``test``, ``dark``."""
    return "test" if stored == "proof" else stored


def place(rung: int | None, stored_kind: str) -> str:
    """Write where in a ladder a frame belongs: ``7``, ``7 test``, ``base``."""
    of = "" if rung is None else str(rung)
    return of if stored_kind == "rung" else f"{of} {kind(stored_kind)}".strip()


def way(stored: str) -> str:
    """Write how a frame is timed: ``timed``, ``bulb``, ``many``."""
    return "bulb" if stored == "held" else stored


def room(headroom_stops: float | None, clipped_share: float) -> str:
    """Write the headroom to clipping in stops: ``0.8``, or ``clipped`` where more than may clip does."""
    if headroom_stops is not None:
        return f"{headroom_stops:.1f}"
    return "clipped" if clipped_share else NOT_KNOWN


def count(value: float) -> str:
    """Write a number of stops without sign or needless figures: ``10``, ``6.6``."""
    return f"{value:.1f}".removesuffix(".0")


def filters(names: Sequence[str]) -> str:
    """Write what is in front of the lens, nearest first."""
    return " + ".join(names) or "none"


def in_words(some: Sequence[int]) -> str:
    """Write numbers that follow one another: ``3``, ``6 and 9``, ``6 to 8``."""
    first, last = some[0], some[-1]
    if len(some) > 2 and last - first == len(some) - 1:
        return f"{first} to {last}"
    *before, last = some
    return f"{', '.join(map(str, before))} and {last}" if before else str(last)


def which_rungs(numbers: Sequence[int], what: str = "rung") -> str:
    """Write which rungs, or what else has numbers: ``rung 3``, ``rungs 6 to 8``."""
    return f"{what}{'' if len(numbers) == 1 else 's'} {in_words(numbers)}"


@lru_cache(maxsize=4096)
def aperture(exact: float | None) -> str:
    """Write an f-number, by its mark where it is one: ``f/11``."""
    if not exact:
        return NOT_KNOWN
    return _mark_label((*aperture_marks(Step.THIRD), *aperture_marks(Step.HALF)), exact) or f"f/{exact:.3g}"


@lru_cache(maxsize=4096)
def iso(exact: float | None) -> str:
    """Write a sensitivity, by its mark where it is one: ``3200``."""
    if not exact:
        return NOT_KNOWN
    return _mark_label((*iso_marks(Step.THIRD), *iso_marks(Step.HALF)), exact) or f"{exact:.0f}"


def _mark_label(marks: Sequence[Mark], exact: float) -> str | None:
    mark = nearest(marks, exact)
    return mark.label if abs(mark.exact / exact - 1) < _IS_MARK else None


def in_lines(parts: Iterable[str], fits: Callable[[str], bool], gap: str = " ") -> list[str]:
    """Set parts one after another on lines that fit, one that is too long alone on its line."""
    lines: list[str] = []
    for part in parts:
        if lines and fits(longer := f"{lines[-1]}{gap}{part}"):
            lines[-1] = longer
        else:
            lines.append(part)
    return lines


def before(rung: int | None) -> str:
    """Say when a turn is due: before a rung, or (None) after the last one."""
    return "at the end" if rung is None else f"before rung {rung}"


def percent(share: float) -> str:
    """Write a share of pixels as people read it: ``0 %``, ``<0.1 %``, ``2.4 %``, ``31 %``."""
    if not share:
        return "0 %"
    if share < 0.001:
        return "<0.1 %"
    return f"{share:.1%}".replace("%", " %") if share < 0.1 else f"{share:.0%}".replace("%", " %")


def spot(latitude: float, longitude: float) -> str:
    """Write a place on the earth [degrees]: ``64.1° N, 21.9° W``."""
    north, east = "N" if latitude >= 0 else "S", "E" if longitude >= 0 else "W"
    return f"{abs(latitude):.6g}° {north}, {abs(longitude):.6g}° {east}"


def utc_text(moment: datetime | None) -> str | None:
    """Write a moment as JSON has it; None where it is not known."""
    return None if moment is None else f"{moment.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"


def altitude(degrees: float) -> str:
    """Write where the sun stands: ``2.4° above the horizon``."""
    return f"{abs(degrees):.1f}° {'above' if degrees >= 0 else 'below'} the horizon"


def from_here(path: Path) -> str:
    """Write a path as it is typed in the working folder: from there where that is shorter, quoted where it must be."""
    return shlex.quote(min(os.path.relpath(path), str(path.absolute()), key=len))
