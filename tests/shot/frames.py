"""Frames that were made, for tests of what becomes of their files."""

from __future__ import annotations

from typing import Literal

from tether.journal.records import Applied
from tether.shot.comparison import AskedFrame
from tether.shot.made import Made


def made(frame: int, *, open_s: float = 0.5, commands_s: float | None = None) -> Made:
    """Return a frame; held where the time between our commands is given [s]."""
    asked = Applied(time_s=open_s, time_label="0.5", aperture=8.0, aperture_label="f/8", iso=100.0, iso_label="100")
    way: Literal["timed", "held"] = "timed" if commands_s is None else "held"
    return Made(
        frame=frame,
        kind="rung",
        rung=1,
        wanted=AskedFrame(way=way, asked=asked, open_s=open_s, commands_s=commands_s),
        filters=(),
        filter_stops=0.0,
        opened_s=None,
    )
