"""The course of an evening as plain records: what is drawn over time of a ladder, and the words of its making in JSON.

Moments (`_s`) are seconds of UTC by the run's clock, light is in stops against the first base frame; None is not known.
"""

from __future__ import annotations

from dataclasses import dataclass

Point = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class LightPoint:
    """The light at a frame, as the frames tell it: against the base, with its standard uncertainty [stops].

    `bare`: nothing was in front of the lens but what is always on.
    """

    frame: int
    at_s: float
    stops: float
    doubt_stops: float
    bare: bool


@dataclass(frozen=True, kw_only=True)
class Correction:
    """From a moment on a rung was made brighter (positive) or darker than planned, by its settings [stops]."""

    rung: int
    at_s: float
    stops: float


@dataclass(frozen=True, kw_only=True)
class RungCourse:
    """A rung over time.

    Attributes
    ----------
    rung, label
        Its number, and its time in words.
    tasks
        What the person does before it.
    spans
        When its frames were open, each from and to.
    outcome
        How it ended; None: not yet.
    waits_s
        How long its tasks and tests are expected to take.
    frames, frame_s
        How many frames it has, and how long each is expected to take in all.
    """

    rung: int
    label: str
    tasks: tuple[str, ...]
    spans: tuple[Point, ...]
    outcome: str | None
    waits_s: float
    frames: int
    frame_s: float


@dataclass(frozen=True, kw_only=True)
class Evening:
    """A ladder over time.

    Attributes
    ----------
    begins_s
        The middle of the first base frame, or of the first frame where there is none; None: there is no frame yet.
    leave_s
        When the person wants to leave.
    over
        Whether the ladder has ended.
    light
        The light at each frame that tells of it.
    expected
        The light that the sun and the plan let expect, at moments; empty: they say nothing of it.
    corrections
        What was corrected, by rung.
    rungs
        The rungs, in the order in which they are taken.
    battery
        How full the battery was, at moments [share of 1].
    """

    begins_s: float | None = None
    leave_s: float | None = None
    over: bool = False
    light: tuple[LightPoint, ...] = ()
    expected: tuple[Point, ...] = ()
    corrections: tuple[Correction, ...] = ()
    rungs: tuple[RungCourse, ...] = ()
    battery: tuple[Point, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Present:
    """How a run stands at a moment: the rung in hand, and from when to when the shutter is open; None: it is not."""

    at_s: float
    rung: int | None = None
    open: Point | None = None


def expected_spans(evening: Evening, present: Present | None) -> dict[int, Point]:
    """Return from when to when what is left of each rung is expected to be taken, by rung [s]; none where it is over.

    One begins after the other, the first now, or when the shutter closes; rungs that have begun wait for no task.
    """
    if evening.over or present is None:
        return {}
    at_s = present.open[1] if present.open else present.at_s
    found = {}
    for rung in evening.rungs:
        is_open = present.open is not None and present.rung == rung.rung
        left = rung.frames - len(rung.spans) - is_open
        if rung.outcome is not None or left <= 0:
            continue
        begins_s = at_s if rung.spans or is_open else at_s + rung.waits_s
        at_s = begins_s + left * rung.frame_s
        found[rung.rung] = (begins_s, at_s)
    return found
