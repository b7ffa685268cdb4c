"""What an outing was: when, where, how much was made, what was kept, and in what light; from its journal and choices.

`outings_json` gives it as plain data (``schemas/outings.schema.json``). None means "not known" throughout.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from tether.exposure.stops import ev100
from tether.journal.planned import PlannedBase
from tether.journal.records import EXPOSED
from tether.journal.store import Contents
from tether.journal.story import SETTLED, FrameStory, LadderStory
from tether.journal.telling import tell
from tether.plan.file import Place
from tether.plan.learned import Figure, What
from tether.report.choices import Choice
from tether.wording import utc_text

OUTINGS_SCHEMA = "tether-outings/1"


@dataclass(frozen=True, kw_only=True)
class Gone:
    """An outing that is remembered and not where it was, and a sentence about it."""

    folder: Path
    title: str
    begun_utc: datetime
    sentence: str


@dataclass(frozen=True, kw_only=True)
class KeptFrame:
    """A frame that was chosen to keep: the time asked for [s], its streak [px], and its file relative to the outing."""

    frame: int
    ladder: int
    time_s: float | None
    streak_px: float | None
    file: str | None


@dataclass(frozen=True, kw_only=True)
class LadderDone:
    """One ladder of an outing.

    Attributes
    ----------
    rungs, rungs_done
        Rungs that were planned, and those of them that were done or skipped by the person.
    frames
        Frames of its rungs that were made and count.
    base_ev
        Exposure value at ISO 100 of the base, glass that is always on counted in: how bright the place was.
    light_stops
        How much brighter than at the base the light was at the last frame without filters that was read [stops].
    framing
        The preview of its first base frame, relative to the outing: how the picture was framed.
    """

    ladder: int
    title: str
    outcome: str
    place: Place
    rungs: int
    rungs_done: int
    frames: int
    kept: tuple[KeptFrame, ...]
    base_ev: float | None
    light_stops: float | None
    framing: str | None


@dataclass(frozen=True, kw_only=True)
class OutingDone:
    """An outing: its folder, when its first run began, whether it was rehearsed in part or whole, and its ladders."""

    folder: Path
    begun_utc: datetime
    simulated: bool
    running: bool
    ladders: tuple[LadderDone, ...]

    @property
    def title(self) -> str:
        """What it is called: the title of its last ladder, else its folder."""
        return next((one.title for one in reversed(self.ladders) if one.title), self.folder.name)

    @property
    def place(self) -> Place:
        """Where it was, as its last ladder has it."""
        return self.ladders[-1].place if self.ladders else Place()

    @property
    def kept(self) -> tuple[KeptFrame, ...]:
        """What was kept of all its ladders."""
        return tuple(frame for ladder in self.ladders for frame in ladder.kept)


def outing_done(folder: Path, contents: Contents, choices: Mapping[int, Choice]) -> OutingDone:
    """Return what an outing was, by its journal and what was chosen; it must have a record."""
    told = tell(contents.entries, name=folder.name, running=contents.running)
    return OutingDone(
        folder=folder,
        begun_utc=contents.entries[0].utc,
        simulated=told.simulated,
        running=told.running,
        ladders=tuple(_ladder(ladder, choices) for ladder in told.ladders),
    )


def mark_of(contents: Contents) -> str | None:
    """Return what tells an outing from every other, wherever its folder lies; None where nothing was written yet.

    It is when its first record was written, by both clocks: a copy of an outing is the same outing.
    """
    if not contents.entries:
        return None
    first = contents.entries[0]
    return f"{first.utc.astimezone(UTC).isoformat(timespec='microseconds')} {first.mono_ns}"


def _ladder(ladder: LadderStory, choices: Mapping[int, Choice]) -> LadderDone:
    planned, kept = ladder.planned, {number for number, choice in choices.items() if choice.verdict == "keep"}
    return LadderDone(
        ladder=ladder.ladder,
        title=ladder.title,
        outcome=ladder.outcome,
        place=place_of(ladder.plan_text),
        rungs=len(planned.rungs) if planned else 0,
        rungs_done=sum(rung.outcome in SETTLED for rung in ladder.rungs),
        frames=sum(_counts(frame) for frame in ladder.frames),
        kept=tuple(_kept(frame) for frame in ladder.frames if frame.frame in kept),
        base_ev=_base_ev(planned.base) if planned else None,
        light_stops=_light_stops(ladder),
        framing=next((frame.preview for frame in ladder.frames if frame.kind == "base" and frame.preview), None),
    )


def place_of(plan_text: str) -> Place:
    """Return the place that a plan's text names, as far as it can be read: plans of earlier releases have others."""
    try:
        return Place.model_validate(tomllib.loads(plan_text).get("place", {}))
    except (tomllib.TOMLDecodeError, ValidationError):
        return Place()


def _counts(frame: FrameStory) -> bool:
    return frame.kind == "rung" and frame.outcome in EXPOSED and not frame.void


def _kept(frame: FrameStory) -> KeptFrame:
    streak = frame.readings.streak if frame.readings else None
    return KeptFrame(
        frame=frame.frame,
        ladder=frame.ladder,
        time_s=frame.open_s.asked or None,
        streak_px=streak.length_px if streak else None,
        file=frame.files[0].name if frame.files else None,
    )


def _base_ev(base: PlannedBase) -> float:
    return ev100(base.time_s, base.aperture, base.iso) + sum(one.stops for one in base.filters)


def _light_stops(ladder: LadderStory) -> float | None:
    """Return the light at the last frame that was made through no filter that comes and goes [stops]."""
    bare = [frame.readings.off_stops for frame in ladder.frames if frame.readings and _is_bare(frame)]
    return next((one for one in reversed(bare) if one is not None), None)


def _is_bare(frame: FrameStory) -> bool:
    return frame.kind in ("base", "rung") and not frame.filter_stops and frame.as_asked


def outings_json(
    outings: Sequence[OutingDone],
    gone: Sequence[Gone],
    *,
    place: Mapping[str, Any] | None = None,
    learned: Mapping[tuple[What, str], Figure] | None = None,
) -> dict[str, Any]:
    """Return what `tether outings --json` prints, valid by ``outings.schema.json``.

    `place` is what is known of the place that was asked for; None: none was. `learned` is what the outings that are
    remembered tell of how long things take.
    """
    return {
        "schema": OUTINGS_SCHEMA,
        "place": place,
        "outings": [_done_json(one) for one in outings],
        "learned": [{"what": what, "of": of, **vars(one)} for (what, of), one in (learned or {}).items()],
        "gone": [{**vars(one), "folder": str(one.folder), "begun_utc": utc_text(one.begun_utc)} for one in gone],
    }


def _done_json(one: OutingDone) -> dict[str, Any]:
    return {
        "folder": str(one.folder),
        "title": one.title,
        "begun_utc": utc_text(one.begun_utc),
        "simulated": one.simulated,
        "running": one.running,
        "ladders": [
            {**vars(ladder), "place": place_json(ladder.place), "kept": [vars(frame) for frame in ladder.kept]}
            for ladder in one.ladders
        ],
    }


def place_json(place: Place) -> dict[str, Any]:
    """Return a place as plain data."""
    spot = place.spot
    return {
        "name": place.name,
        "latitude": spot.latitude if spot else None,
        "longitude": spot.longitude if spot else None,
    }
