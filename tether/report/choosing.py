"""What there is to choose from in an outing: the frames of its rungs by shutter time, and how they are shown alike."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import log2
from pathlib import Path

from tether import wording as words
from tether.journal.story import FrameStory, LadderStory
from tether.journal.telling import read_outing
from tether.report import told
from tether.report.choices import Choice, read_choices
from tether.report.crops_asked import Shown

#: The base's brightest thousandth is shown so far below white [stops].
_BELOW_WHITE_STOPS = 0.15
#: No frame is made brighter to look at by more than this [stops].
_MOST_STOPS = 3.0


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """A frame that may be chosen.

    Attributes
    ----------
    frame, ladder, rung
        Its running number in the outing, its ladder, its rung.
    at_stops
        Where it stands on the axis of shutter times: the logarithm of its open time [stops against 1 s].
    time, settings
        How long it was really open, and what it was taken with, in words.
    says
        What it says, in words, a part each.
    shown
        How it is shown beside the others.
    choice
        What the person thinks of it.
    """

    frame: int
    ladder: int
    rung: int
    at_stops: float
    time: str
    settings: str
    says: tuple[str, ...]
    shown: Shown
    choice: Choice


@dataclass(frozen=True, kw_only=True)
class ToChoose:
    """What there is to choose from.

    Attributes
    ----------
    title
        What the last ladder is called.
    simulated
        Whether any of it was made on the simulated body.
    candidates
        The frames, the shortest time first.
    cells
        The regions of the last ladder that has any, by cells; empty: there are none.
    """

    title: str
    simulated: bool
    candidates: tuple[Candidate, ...]
    cells: tuple[str, ...]


def to_choose(outing: Path) -> ToChoose:
    """Return what there is to choose from in an outing.

    Raises
    ------
    PlanError, SupplyError, LostError
        Its journal, or what was chosen, can't be read.
    """
    story = read_outing(outing)
    choices = read_choices(outing)
    found = [one for ladder in story.ladders for one in candidates_of(ladder, choices)]
    return ToChoose(
        title=story.ladders[-1].title if story.ladders else story.name,
        simulated=story.simulated,
        candidates=tuple(sorted(found, key=lambda one: (one.at_stops, one.frame))),
        cells=next((ladder.regions.cells for ladder in reversed(story.ladders) if ladder.regions), ()),
    )


def candidates_of(ladder: LadderStory, choices: Mapping[int, Choice]) -> list[Candidate]:
    """Return the frames of a ladder's rungs that may be chosen, as they were taken; `choices`: by running numbers."""
    base = _base(ladder)
    if base is None:
        return []
    brighter = _brighter_stops(base)
    name = file_of(base) or ""
    found = []
    for one in ladder.frames:
        open_s, file = one.believed_open_s, file_of(one)
        if one.kind != "rung" or one.rung is None or not open_s or file is None:
            continue
        found.append(
            Candidate(
                frame=one.frame,
                ladder=one.ladder,
                rung=one.rung,
                at_stops=log2(open_s),
                time=words.planned_time(open_s),
                settings=settings_of(one),
                says=_says(one),
                shown=Shown(frame=file, base=name, gains=_gains(one, brighter)),
                choice=choices.get(one.frame, Choice()),
            )
        )
    return found


def _base(ladder: LadderStory) -> FrameStory | None:
    """Return the frame that all are shown like: the first of the base, else the first there is."""
    home = [one for one in ladder.frames if file_of(one) and one.kind in ("base", "rung")]
    return next((one for one in home if one.kind == "base"), home[0] if home else None)


def file_of(frame: FrameStory) -> str | None:
    """Return a frame's raw file, below the outing: the one that a preview was made of; None where none is home."""
    main = [file for file in frame.files if file.preview]
    return next((file.name for file in (*main, *frame.files)), None)


def _brighter_stops(base: FrameStory) -> float:
    """Return by how much all are made brighter to look at: a base leaves headroom, which the eye does not need."""
    headroom = base.readings.headroom_stops if base.readings else None
    return min(max((headroom or 0.0) - _BELOW_WHITE_STOPS, 0.0), _MOST_STOPS)


def _gains(frame: FrameStory, brighter_stops: float) -> tuple[float, float, float]:
    """Return what the sensor's colours are multiplied by so that still parts look as in the base."""
    rock = frame.readings.rock if frame.readings else None
    off = rock.brighter_stops if rock else {}
    red, green, blue = (2 ** (brighter_stops - off.get(channel, 0.0)) for channel in "RGB")
    return red, green, blue


def settings_of(frame: FrameStory) -> str:
    """Write what a frame was taken with: ``f/11, ISO 100, Calder 6``."""
    parts = [words.aperture(frame.aperture), f"ISO {words.iso(frame.iso)}"]
    if frame.void:
        return ", ".join([*parts, "filters not known"])
    return ", ".join([*parts, words.filters(frame.filters)] if frame.filters else parts)


def _says(frame: FrameStory) -> tuple[str, ...]:
    readings = frame.readings
    if readings is None:
        return ()
    streak = readings.streak.length_px if readings.streak else None
    drawn = [] if streak is None else [f"streak {streak:.0f} px"]
    return (*drawn, *(f"{name} {value}" for name, value in told.says(readings)))
