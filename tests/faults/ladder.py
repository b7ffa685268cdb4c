"""One short ladder for a simulated camera on the wire or on USB: its plan, and the body file that goes with it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from tether.body.dialects import Dialect

#: The last three are longer than the body keeps by itself.
TEN = ("1/500", "1/250", "1/125", "1/60", "1/30", "1/15", "1/4", "0.5", "1", "2")

_BODY = """
name = "Simulated camera on the wire"
like = "wire-{dialect}"
[times]
longest = "{longest}"
[hold]
shortest_s = 0.3
open_delay_s = 0.0
close_delay_s = 0.0
"""
_PLAN = """
title = "{title}"
darker_by = "nothing"
[body]
file = "{body}"
[lens]
focal_mm = 24
widest = "f/2.8"
narrowest = "f/22"
[base]
time = "{base}"
aperture = "f/8"
iso = 400
frames = 0
[rungs]
times = [{times}]
order = "short first"
frames = 1
[limits]
aperture = ["f/2.8", "f/22"]
iso = [50, 3200]
extended_iso = true
[run]
dark_frames = "none"
settle_s = 0
proof = false
"""


def body_text(dialect: Dialect, *, longest: str = "1/4") -> str:
    """Return the body file of a simulated camera on the wire whose own times end at `longest`."""
    return _BODY.format(dialect=dialect, longest=longest)


def plan_text(title: str, body: Path, *, times: Sequence[str] = TEN, base: str = "1/30") -> str:
    """Return the plan of a ladder of these times without filters, settling or test exposures."""
    quoted = ", ".join(f'"{one}"' for one in times)
    return _PLAN.format(title=title, body=body, base=base, times=quoted)
