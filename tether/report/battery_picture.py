"""The battery over an evening as a picture: how full the body said it was, against minutes until the person leaves."""

from __future__ import annotations

from tether.report.drawing import Scale, draw_minutes, draw_now, line, minutes_axis, picture, shape, text, written
from tether.report.evening_told import Evening
from tether.report.told import LOW_BATTERY

# Where things are [px].
_LEFT, _RIGHT, _TOP, _PLOT, _UNDER_AXIS = 52.0, 18.0, 46.0, 96.0, 48.0
_RADIUS = 3.5
_SHARES = (0.0, 0.5, 1.0)


def battery_picture(evening: Evening, width: float, now_s: float | None) -> str | None:
    """Draw how full the battery was.

    Parameters
    ----------
    evening, width, now_s
        As for :func:`tether.report.light_picture.light_picture`.

    Returns
    -------
    str or None
        SVG whose tones are left to the page; None where the body told it at fewer than two moments.
    """
    if len({at_s for at_s, _ in evening.battery}) < 2:
        return None
    bottom = _TOP + _PLOT
    minutes = minutes_axis(evening, _LEFT, width - _RIGHT, now_s, ends_s=evening.battery[-1][0])
    shares = Scale(low=0.0, high=1.0, start=bottom, end=_TOP)
    svg = picture("The battery over the evening", width, bottom + _UNDER_AXIS)
    text(svg, 0, 14, "Battery: as the camera tells it", "soft")
    for share in _SHARES:
        line(svg, "grid", minutes.scale.start, shares.at(share), minutes.scale.end, shares.at(share))
        text(svg, minutes.scale.start - 7, shares.at(share) + 4.5, f"{share:.0%}", "soft", "end")
    low_y = shares.at(LOW_BATTERY)
    line(svg, "low", minutes.scale.start, low_y, minutes.scale.end, low_y)
    draw_minutes(svg, minutes, _TOP, bottom)
    places = [(minutes.scale.at(at_s), shares.at(share)) for at_s, share in evening.battery]
    shape(svg, "polyline", "course", points=" ".join(f"{x:.1f},{y:.1f}" for x, y in places))
    for x, y in places:
        shape(svg, "circle", "bare", cx=x, cy=y, r=_RADIUS)
    text(svg, minutes.scale.start + 5, low_y - 5, "low", "soft")
    if now_s is not None:
        draw_now(svg, minutes, now_s, _TOP, bottom)
    return written(svg)
