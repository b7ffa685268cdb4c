"""What a browser may wish of a draft: read from what it sent, and nothing else."""

from __future__ import annotations

from math import isfinite
from typing import Any, get_args

from tether.editor.messages import (
    Check,
    Edit,
    EditorRequest,
    Expose,
    Find,
    FromCamera,
    Halt,
    Leave,
    Nudge,
    RegionKind,
    Save,
    SetRegion,
    ShowLive,
    Undo,
)

_PLAIN: dict[str, EditorRequest] = {
    "undo": Undo(),
    "save": Save(),
    "check": Check(),
    "expose": Expose(),
    "find": Find(),
    "from camera": FromCamera(),
    "halt": Halt(),
    "leave": Leave(),
}
#: Steps of the focus that the page has buttons for.
NUDGES = (-5, -1, 1, 5)
#: A rectangle is no narrower and no lower than this, as a share of the picture: what is smaller was a stray touch.
LEAST = 0.04


def wish_of(body: dict[str, Any]) -> EditorRequest | None:
    """Return the wish that a browser sent; None: it is none of those that the page has."""
    name = body.get("wish")
    if name == "edit":
        key, value = body.get("key"), body.get("value")
        return Edit(key=key, value=value) if isinstance(key, str) and isinstance(value, str) else None
    if name == "region":
        return _region(body.get("what"), body.get("box"))
    if name == "live":
        at = body.get("at")
        place = _shares(at, 2)
        return ShowLive(at=(place[0], place[1]) if place else None) if at is None or place else None
    if name == "nudge":
        steps = body.get("steps")
        return Nudge(steps=steps) if type(steps) is int and steps in NUDGES else None
    return _PLAIN.get(name) if isinstance(name, str) else None


def _region(what: Any, box: object) -> SetRegion | None:
    if what not in get_args(RegionKind):
        return None
    if box is None:
        return SetRegion(what=what, box=None)
    edges = _shares(box, 4)
    if edges is None:
        return None
    left, top, right, bottom = edges
    if min(right - left, bottom - top) < LEAST - 1e-9:
        return None
    return SetRegion(what=what, box=(left, top, right, bottom))


def _shares(given: object, count: int) -> tuple[float, ...] | None:
    """Return so many shares, 0 to 1; None where these are none."""
    if not isinstance(given, list) or len(given) != count:
        return None
    if not all(type(one) in (int, float) and isfinite(one) and 0.0 <= one <= 1.0 for one in given):
        return None
    return tuple(map(float, given))
