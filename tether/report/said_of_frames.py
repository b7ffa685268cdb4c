"""Frames in words: what a frame is called and was set to, how long a streak the water drew, what the light did."""

from __future__ import annotations

from collections.abc import Collection
from math import log2
from typing import TYPE_CHECKING

from tether import wording as words
from tether.journal.readings import StreakSaid
from tether.journal.story import FrameStory, LadderStory

if TYPE_CHECKING:
    from tether.report.audit import Split

#: Uncertainties are shown so many standard ones wide: about 95 %.
WIDE = 2.0
#: A rung that was open for so much longer or shorter than its name says that beside it [stops].
_OTHERWISE_OPEN_STOPS = 0.1


def named(frame: FrameStory, ladder: LadderStory) -> str:
    """Return what a frame's rung is called: ``1:04 min``; a frame of no rung is called by how long it was open."""
    rung = ladder.planned.rung(frame.rung) if ladder.planned else None
    return rung.name if rung else words.planned_time(frame.believed_open_s)


def opened(frame: FrameStory, ladder: LadderStory) -> str:
    """Say how long a frame was open where its name does not tell that: ``open 55.2 s``; else nothing."""
    rung, open_s = ladder.planned.rung(frame.rung) if ladder.planned else None, frame.believed_open_s
    if rung is None or not open_s or abs(log2(open_s / rung.wanted_s)) < _OTHERWISE_OPEN_STOPS:
        return ""
    return f"open {words.planned_time(open_s)}"


def changed(frame: FrameStory) -> str:
    """Say what was set otherwise than planned: ``opened 0.67 stop longer than planned``; nothing where nothing was."""
    if frame.difference_stops is None or words.stops(frame.difference_stops) == "0.00":
        return ""
    return f"{words.settings_changed(*(frame.differences_stops or (0.0, 0.0, 0.0)))} than planned"


def untaken(ladder: LadderStory, shown: Collection[int | None], asked: Collection[int] | None = None) -> str:
    """Say which rungs are not shown as there is no frame of them: ``Rung 4 left out. Rungs 9 to 13 not taken.``

    Parameters
    ----------
    shown
        The rungs that are.
    asked
        The rungs that were asked for; None: all.
    """
    ended = {rung.rung: rung.outcome for rung in ladder.rungs}
    rungs = [one.rung for one in ladder.planned.rungs] if ladder.planned else []
    missing = [rung for rung in rungs if rung not in shown and (asked is None or rung in asked)]
    taken = {frame.rung for frame in ladder.frames if frame.kind == "rung"}
    found: dict[str, list[int]] = {"left out": [], "not taken": [], "not there to be shown": []}
    for rung in missing:
        left_out = "left out" if ended.get(rung) in ("left out", "skipped") else "not taken"
        found["not there to be shown" if rung in taken else left_out].append(rung)
    return " ".join(f"{words.which_rungs(which).capitalize()} {what}." for what, which in found.items() if which)


def streak(said: StreakSaid | None) -> str:
    """Write the length of a streak [px]: ``42 ±3``, ``over 90``, ``under 4``."""
    match said:
        case StreakSaid(length_px=float() as length_px, uncertainty_px=uncertainty_px):
            return f"{length_px:.0f} ±{WIDE * (uncertainty_px or 0.0):.0f}"
        case StreakSaid(at_least_px=float() as at_least_px):
            return f"over {at_least_px:.0f}"
        case StreakSaid(at_most_px=float() as at_most_px):
            return f"under {at_most_px:.0f}"
    return words.NOT_KNOWN


def light_since_base(split: Split) -> str:
    """Say in a sentence what the light had done since the base when a frame was taken."""
    doubt = f"±{WIDE * split.uncertainty_stops:.2f}"
    if words.stops(split.light_stops) == "0.00":
        return f"The light was as at the base ({doubt})."
    return f"The light was {words.brighter(split.light_stops)} than at the base ({doubt})."
