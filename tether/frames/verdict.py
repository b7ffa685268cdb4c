"""Whether a frame's still rocks say that it should be taken again, and what likely happened."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot
from typing import Literal

from tether.journal.readings import Sharpness, Stillness, lost_beyond

Cause = Literal["knock", "zoom or focus ring", "moved while open", "focus or spray"]

#: A frame is proposed again where the rocks moved farther than this [px of the sensor], or lost more of their sharpness
#: than this beside what was expected (share). Own choice, no source.
MOVED_MAY_BE_PX, LOST_MAY_BE = 1.0, 0.15
#: It must be so by this many standard errors.
_SURE = 2.0
#: A blur has a direction where its variance across is less than this share of that along.
_ACROSS = 0.4
_LIKELY: dict[Cause, str] = {
    "knock": "The tripod was likely knocked, or sank, before this frame.",
    "zoom or focus ring": "The zoom or focus ring was likely turned before this frame.",
    "moved while open": "Wind, or a touch of the tripod, likely moved the camera while the shutter was open.",
    "focus or spray": "The focus may have moved, or there may be spray on the glass.",
}


@dataclass(frozen=True, kw_only=True)
class LikelyCause:
    """That a frame should be taken again: the likely cause, and sentences with the evidence."""

    cause: Cause
    sentence: str


def verdict(
    found: Stillness,
    *,
    before: Stillness | None = None,
    expected: Sharpness | None = None,
    moved_may_be_px: float = MOVED_MAY_BE_PX,
    lost_may_be: float = LOST_MAY_BE,
) -> LikelyCause | None:
    """Return why to propose that a frame be taken again, or None where nothing speaks for that.

    Parameters
    ----------
    found
        The frame against the base frame.
    before
        The frame before it, if any: what moved once, and stayed so, is told once.
    expected
        What diffraction does to the sharpness at this frame's aperture (:func:`~tether.frames.stillness.diffraction`).
    moved_may_be_px, lost_may_be
        From where on it is proposed again [px of the sensor, share].
    """
    moved, lost = moved_px(found, before), lost_beyond(found.sharpness, expected)
    has_moved = moved - _SURE * found.uncertainty_px > moved_may_be_px
    sharpness = found.sharpness
    is_soft = lost is not None and sharpness is not None and lost - _SURE * sharpness.uncertainty > lost_may_be
    if not has_moved and not is_soft:
        return None
    evidence = [_place(found)] if has_moved else []
    if is_soft and sharpness is not None and lost is not None:
        evidence.append(_softness(sharpness, expected, lost))
    cause = _cause(found, expected, has_moved=has_moved, is_soft=is_soft)
    return LikelyCause(cause=cause, sentence=" ".join([*evidence, _LIKELY[cause]]))


def moved_px(found: Stillness, before: Stillness | None) -> float:
    """Return how far the still parts lie from where they lay in a frame before; None: in the base [px]."""
    if before is None:
        return found.most_px
    shifted = hypot(found.right_px - before.right_px, found.down_px - before.down_px)
    return max(shifted, abs(found.most_px - before.most_px))


def _cause(found: Stillness, expected: Sharpness | None, *, has_moved: bool, is_soft: bool) -> Cause:
    if is_soft and found.sharpness is not None and _one_way(found.sharpness, expected):
        return "moved while open"
    if not has_moved:
        return "focus or spray"
    return "zoom or focus ring" if abs(found.grown_px) > found.most_px / 2 else "knock"


def _one_way(sharpness: Sharpness, expected: Sharpness | None) -> bool:
    alike = expected.across_px2 if expected else 0.0
    return sharpness.across_px2 - alike < _ACROSS * (sharpness.along_px2 - alike)


def _place(found: Stillness) -> str:
    right, down = ("right" if found.right_px >= 0 else "left"), ("down" if found.down_px >= 0 else "up")
    place = (
        f"The still rocks lie {abs(found.right_px):.1f} px {right} and {abs(found.down_px):.1f} px {down} "
        f"of where the base frame has them"
    )
    farthest = (
        f", and up to {found.most_px:.1f} px off" if found.most_px > 1.5 * hypot(found.right_px, found.down_px) else ""
    )
    return f"{place}{farthest} (± {max(found.uncertainty_px, 0.01):.2f} px)."


def _softness(sharpness: Sharpness, expected: Sharpness | None, lost: float) -> str:
    beside = " beside what the aperture takes" if expected else ""
    told = (
        f"The still rocks lost {lost:.0%}{beside} of the contrast of their fine texture (± {sharpness.uncertainty:.0%})"
    )
    if _one_way(sharpness, expected):
        return f"{told}, most of it along one direction ({sharpness.along_deg:.0f}° clockwise from level)."
    if sharpness.upper - sharpness.lower > lost:
        return f"{told}, alike in all directions, some parts of the picture much more than others."
    return f"{told}, alike in all directions and all over the picture."
