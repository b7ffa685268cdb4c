"""Tether as a library: from a plan to its ladder, a rehearsal, and the pixels of the frames.

There is no promise of stability yet: names and keywords here may change with any release. What is written down for
other programs is the JSON of the commands and of the socket (``tether/schemas``).

`prepare` reads a plan and makes its ladder, `rehearse` runs it on the simulated body, `read_outing` tells what an
outing's journal has, `read_frames` gives the frames of a ladder, each with ``raw()``.
"""

from __future__ import annotations

from tether.errors import TetherError
from tether.files.raw import RawFrame
from tether.journal.telling import read_outing
from tether.outing.prepare import Prepared, prepare
from tether.outing.taken import TakenFrame, read_frames
from tether.service.rehearsal import Rehearsed, rehearse

__all__ = [
    "Prepared",
    "RawFrame",
    "Rehearsed",
    "TakenFrame",
    "TetherError",
    "prepare",
    "read_frames",
    "read_outing",
    "rehearse",
]
