"""What the page shows of the base before a run: its last frame, the rectangles over it, and live view to focus by."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from tether import wording as words
from tether.editor.known import Focus, Known
from tether.editor.messages import Drafted, DraftFrame, PictureShown, RegionKind
from tether.journal.planned import PlannedBase
from tether.report.focus_picture import focus_picture

Data = dict[str, Any]

#: Kinds of rectangles: as they are called, and how they are drawn, since colour tells nothing here.
KINDS: dict[RegionKind, tuple[str, str]] = {
    "water": ("Water", "long dashes"),
    "rock": ("Rock", "dots"),
    "ignore": ("Leave out", "sparse dashes"),
}
_PROPOSED = "No rectangle is marked. What moves is proposed as water when the ladder begins."
_COLOURS = {"R": "red", "G": "green", "B": "blue"}


def base_view(known: Known) -> Data:
    """Return what is shown of the base, as far as it is known."""
    state = known.state
    frame = known.frames[-1] if known.frames else None
    return {
        "base": _base(state),
        "frame": _frame(frame, state) if frame else None,
        "kinds": [{"what": what, "called": called, "drawn": drawn} for what, (called, drawn) in KINDS.items()],
        "regions": [{"what": one.what, "box": list(one.box)} for one in state.regions] if state else [],
        "marked": _marked(state),
        "caution": f"{words.SUN_WHEN_FOCUSING} {words.LOCAL_RULES}",
        "live": _live(known.live, known.focus) if known.live else None,
    }


def _base(state: Drafted | None) -> str:
    if state is None or state.ladder is None:
        return ""
    base = state.ladder.base
    return f"{words.planned_time(base.time_s)}, {base.aperture_label}, ISO {base.iso_label}"


def _marked(state: Drafted | None) -> str:
    kinds = dict.fromkeys(one.what for one in state.regions) if state else {}
    drawn = [f"{KINDS[kind][0]}: {KINDS[kind][1]}" for kind in kinds]
    return f"{'. '.join(drawn)}." if drawn else _PROPOSED


def _frame(frame: DraftFrame, state: Drafted | None) -> Data:
    """Return a frame: one number for its headroom, with its unit; everything else small, by name."""
    room = frame.headroom_stops
    water = frame.bars.of == "water"
    where = "in the water" if water else "in the whole picture"
    unit = f"stops of headroom {where}" if room is not None else f"clipped {where}"
    ladder = state.ladder if state else None
    other = f"The base is now {_base(state)}: take a frame." if ladder and not _is_of(frame, ladder.base) else ""
    return {
        "of": Path(frame.picture).stem,
        "room": words.percent(frame.clipped_share) if room is None else f"{room:.2f}",
        "unit": unit,
        "exposure": frame.exposure,
        "more": "" if room is not None and frame.sentence == f"{room:.2f} stops of headroom." else frame.sentence,
        "clipped": ", ".join(f"{_COLOURS[one]} {words.percent(share)}" for one, share in frame.bars.clipped.items()),
        "hint": "" if water else "Mark the water, and the headroom is read of that alone.",
        "other": other,
    }


def _is_of(frame: DraftFrame, base: PlannedBase) -> bool:
    """Say whether a frame was taken with a base exposure."""
    time, _, rest = frame.exposure.partition(", ")
    return time.partition(" ")[0] == base.time_label and rest == f"{base.aperture_label}, ISO {base.iso_label}"


def _live(live: PictureShown, focus: Focus) -> Data:
    now, best = focus.trace[-1] if focus.trace else None, focus.best
    share = focus.share
    return {
        "what": _times(live),
        "at": list(live.at) if live.at else None,
        "times": live.times,
        "framed": live.framed is not None and live.at is None,
        "share": "" if share is None else f"{100 * share:.0f} %",
        "now": f"{100 * now:.1f}" if now is not None else "",
        "best": f"{100 * best:.1f}" if best else "",
        "trace": focus_picture(focus.trace, best) if best else None,
        "why_not_nudged": live.why_not_nudged,
    }


def _times(live: PictureShown) -> str:
    if live.at is None:
        return "LIVE VIEW of the whole picture"
    return "LIVE VIEW, closer" if live.times is None else f"LIVE VIEW, {live.times:g} times magnified"
