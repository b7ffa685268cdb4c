"""What the desk says of a plan that is worked on, as plain text: pure functions of what its process told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from tether import wording as words
from tether.editor.known import Focus, Known
from tether.editor.messages import Drafted, DraftFrame, DraftRegion, PictureShown, RegionKind
from tether.journal.planned import PlannedLadder
from tether.journal.readings import HistogramSaid
from tether.journal.story import CheckStory, Outing
from tether.report.ending import ending

NO_PLAN = "No plan is open. These are here; enter opens the one that is marked:"
NO_PLAN_HERE = (
    "No plan is open, and none is in this folder. Leave the desk (^q) and write one:  tether new my-plan.toml"
)
_ORDER = ("stop", "note", "ok")
_VERDICTS = {"stop": "STOP", "note": "note", "ok": "ok"}
#: Signs of eighths, to draw bars with.
_EIGHTHS = " ▁▂▃▄▅▆▇█"
#: Columns beside the bars: the channel's name before, the share that clips after.
_BESIDE = 17
_CHANNELS = {"R": "red", "G": "green", "B": "blue"}


def plan_line(state: Drafted | None) -> str:
    """Say which plan is worked on, with which body, and whether it is saved."""
    if state is None:
        return ""
    body = ""
    if state.ladder:
        told = state.ladder.body
        tried = "" if told.simulated else f", {told.tried or 'body file not tried on hardware'}"
        body = f"   {told.name}{tried}"
    return f"{state.path}{'' if state.saved else ' (not saved)'}{body}"


def doing_line(known: Known) -> str:
    """Say what is going on, or what came of the last wish; a refusal stands elsewhere."""
    if known.doing:
        return f"… {known.doing}"
    return "" if known.refused else known.said


def checked_line(known: Known) -> str:
    """Say when it was looked at, and what it came to."""
    checked = known.checked
    if checked is None:
        return "Nothing is checked yet: c."
    since = ", before the plan was edited (c: again)" if known.state and known.state.text != known.checked_text else ""
    counts = {verdict: sum(one.verdict == verdict for one in checked.findings) for verdict in _ORDER}
    stops = "nothing stops" if not counts["stop"] else f"{counts['stop']} STOP"
    return f"Checked at {checked.at}{since}: {stops}, {counts['note']} to note, {counts['ok']} fine"


def in_order(findings: Sequence[CheckStory]) -> tuple[CheckStory, ...]:
    """Return findings, what stops first."""
    return tuple(sorted(findings, key=lambda one: _ORDER.index(one.verdict)))


def check_line(one: CheckStory, despite: Mapping[str, str]) -> str:
    """Write a check, and why it does not stop the ladder where the person said so."""
    reason = f" Overridden: {despite[one.what]}" if one.verdict == "stop" and one.what in despite else ""
    return f"{_VERDICTS[one.verdict]:>4}  {one.what}: {one.text}{reason}"


def checks_of_run(told: Outing) -> list[str]:
    """Write the checks of an outing's last run."""
    checks = told.runs[-1].checks if told.runs else ()
    return [check_line(one, {}) for one in in_order(checks)]


def of_run_line(told: Outing, state: str) -> str:
    """Say whose checks these are."""
    whose = "this run" if state in ("attached", "lost") else "the last run"
    return f"The checks of {whose} of {told.name}, before it began"


@dataclass(frozen=True, kw_only=True)
class Summary:
    """What is said before a ladder is begun: lines, and whether something stops it."""

    lines: tuple[str, ...]
    stopped: bool


def summary(known: Known, despite: Mapping[str, str], now: datetime, pace: float, outing: Path | None) -> Summary:
    """Say what is about to be begun, and where it goes; `outing` None: a new one."""
    state, checked = known.state, known.checked
    if state is None or state.ladder is None:
        wrong = state.mistakes if state else ("No plan is open.",)
        return Summary(lines=("Nothing can be begun:", *wrong), stopped=True)
    ladder = state.ladder
    into = "a new outing" if outing is None else f"the outing {outing.name}, as its next ladder"
    lines = [f"{ladder.plan}, into {into}", ending(ladder, now, pace)]
    if not state.saved:
        lines.append("The plan's file is not saved; the ladder is as it is shown, and the outing keeps it.")
    if checked is None:
        lines.append("Nothing is checked yet; that is done before the first frame, and what stops the ladder is told.")
        return Summary(lines=(*lines, *care(ladder)), stopped=False)
    stops = [one for one in checked.findings if one.verdict == "stop" and one.what not in despite]
    lines += [f"STOP  {one.what}: {one.text}" for one in stops]
    lines.append(checked_line(known))
    return Summary(lines=(*lines, *care(ladder)), stopped=bool(stops))


def resuming(outing: Path, left: str) -> Summary:
    """Say what is about to be gone on with."""
    lines = (
        f"The ladder of {outing.name}: {left}.",
        "It continues where it stood; what is finished is not made again, and the filters count as they were left.",
    )
    return Summary(lines=lines, stopped=False)


def care(ladder: PlannedLadder) -> tuple[str, ...]:
    """Say what to take care of, as one paragraph of lines."""
    said = [f"· {one}" for one in ladder.cautions]
    return ("\n".join(("Take care:", *said, words.LOCAL_RULES)),) if said else ()


NO_REGIONS = (
    "There is no picture of water and rock: none is drawn before the base frames are read, nor where the plan gives"
    " rectangles."
)
_KINDS = {"water": "dashes: water", "rock": "dots: rock", "ignore": "sparse dashes: left out"}


def base_line(state: Drafted) -> str:
    """Say what the base exposure of the plan is."""
    if state.ladder is None:
        return "The plan has mistakes; see the ladder (3)."
    base = state.ladder.base
    time, aperture, iso = (base.time_label, base.aperture_label, base.iso_label)
    return f"Base of the plan: {time}, {aperture}, ISO {iso}{'' if base.measured else ', not measured'}"


def regions_line(regions: Sequence[DraftRegion]) -> str:
    """Say which rectangles the plan gives, and how they are drawn."""
    if not regions:
        return "No rectangles are given: what moves is proposed as water when the ladder begins."
    kinds = [one.what for one in regions]
    beside = {"water": "what moves", "rock": "what stands still"}
    rest = [f"{kind}: {what} beside it" for kind, what in beside.items() if kind not in kinds]
    return "   ".join((*dict.fromkeys(_KINDS[kind] for kind in kinds), *rest))


def setting_line(what: RegionKind, box: tuple[float, float, float, float]) -> str:
    """Say which rectangle is being set, and where it is."""
    left, top, right, bottom = (f"{share:.0%}" for share in box)
    return f"{_KINDS[what]}: from {left} across and {top} down to {right} across and {bottom} down"


def live_line(live: PictureShown, focus: Focus, *, closer: bool, over: bool = False) -> str:
    """Say what the live picture is and how sharp; `over`: how the place was framed last lies over it."""
    what = "whole"
    if closer:
        what = "closer" if live.times is None else f"{live.times:g} times magnified"
    elif over:
        what = "whole; over it how this place was framed last"
    sharp = "" if focus.share is None else f"\nSharpness: {100 * focus.share:.0f} % of the best so far"
    return f"LIVE VIEW, {what}{sharp}"


def frame_line(frame: DraftFrame | None) -> str:
    """Say how the last frame for the base was taken, and what it shows."""
    if frame is None:
        return "No frame for the base was taken yet: e takes one, f finds the base by the light."
    return frame.sentence if frame.sentence.startswith(frame.exposure) else f"{frame.exposure}: {frame.sentence}"


def frame_mark(frame: DraftFrame) -> str:
    """Write the room in a frame large: stops, or the share that burns, hatched."""
    if frame.headroom_stops is None:
        return f"▒▒ {frame.clipped_share:.2%}"
    return f"{frame.headroom_stops:.2f}"


def histogram(bars: HistogramSaid, width: int, rows: int = 1) -> tuple[str, ...]:
    """Draw a raw histogram as lines of text: by channel, clipped shares hatched and in numbers, a scale beneath.

    Parameters
    ----------
    bars
        What was counted.
    width
        Columns at hand, from 34.
    rows
        Lines for each channel.
    """
    count = len(next(iter(bars.shares.values())))
    room = max(width - _BESIDE, 1)
    joins = -(-count // room)  # so many bars share a column, where there are too few columns
    wide = max(room // -(-count // joins), 1)
    lines = [f"Raw, {bars.of}: stops below clipping"]
    for channel, shares in bars.shares.items():
        heights = _heights([sum(shares[at : at + joins]) for at in range(0, count, joins)], rows)
        clipped = bars.clipped[channel]
        for row in reversed(range(rows)):
            drawn = "".join(_EIGHTHS[min(max(height - 8 * row, 0), 8)] * wide for height in heights)
            hatch = "▒▒" if clipped else "  "
            ends = (_CHANNELS[channel], words.percent(clipped)) if row == 0 else ("", "")
            lines.append(f"{ends[0]:>6} {drawn} {hatch} {ends[1]}".rstrip())
    return (*lines, f"{'':7}{_scale(bars.stops, -(-count // joins) * wide)}")


def _heights(shares: Sequence[float], rows: int) -> list[int]:
    """Return the heights of bars in eighths of a line; a height goes with the root, so that small ones are seen."""
    highest = max(*shares, 1e-9)
    return [0 if not share else max(1, round((share / highest) ** 0.5 * 8 * rows)) for share in shares]


def _scale(stops: int, width: int) -> str:
    signs = [" "] * (width + 1)
    for mark in range(0, stops + 1, 3):
        at = round((stops - mark) / stops * width)
        text = f"-{mark}" if mark else "0"
        signs[at : at + len(text)] = text
    return "".join(signs)
