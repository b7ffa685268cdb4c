"""How sharp live pictures were, one after the other, as a small picture: what a nudge did, beside the best."""

from __future__ import annotations

from collections.abc import Sequence

from tether.report.drawing import Scale, line, picture, shape, text, written

# Where things are [px].
WIDTH, _HEIGHT, _TOP, _RIGHT = 320.0, 96.0, 22.0, 12.0
_RADIUS = 4.0
#: Fewer are spread as if they were so many, so that a course grows from the left.
_LEAST = 20


def focus_picture(trace: Sequence[float], best: float) -> str | None:
    """Draw how sharp live pictures were.

    Parameters
    ----------
    trace
        The sharpness of the last pictures, oldest first.
    best
        The best so far, also of pictures that are not shown any more.

    Returns
    -------
    str or None
        SVG whose tones are left to the page; None where there are fewer than two.
    """
    if len(trace) < 2 or best <= 0.0:
        return None
    places = Scale(low=0.0, high=float(max(len(trace), _LEAST) - 1), start=_RADIUS, end=WIDTH - _RIGHT)
    heights = Scale(low=0.0, high=best, start=_HEIGHT - 2, end=_TOP)
    svg = picture("Sharpness of the live pictures, oldest first", WIDTH, _HEIGHT)
    text(svg, 0, _TOP - 8, "best so far", "soft")
    line(svg, "low", 0, _TOP, WIDTH, _TOP)
    line(svg, "zero", 0, heights.start, WIDTH, heights.start)
    points = [(places.at(number), heights.at(one)) for number, one in enumerate(trace)]
    shape(svg, "polyline", "course", points=" ".join(f"{x:.1f},{y:.1f}" for x, y in points))
    shape(svg, "circle", "bare", cx=points[-1][0], cy=points[-1][1], r=_RADIUS)
    return written(svg)
