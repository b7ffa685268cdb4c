"""A plan to draft on the simulated body, and the side of a face that keeps its process."""

from __future__ import annotations
import os
import queue
import signal
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import TypeVar
import pytest
from PIL import Image
from tests.plan.plans import HEAD
from tether.control.client import Face
from tether.control.registry import running
from tether.desk.draft import Known, after
from tether.editor.client import Drafting
from tether.editor.messages import (
    Begin,
    Begun,
    Check,
    Checked,
    Drafted,
    DraftFrame,
    EditorEvent,
    EditorRequest,
    Expose,
    Find,
    FromCamera,
    Halt,
    Leave,
    Nudge,
    PictureShown,
    Save,
    SetRegion,
    ShowLive,
    Start,
    Undo,
    WishAnswer,
    decode_news,
    decode_start,
    decode_wish,
    encode,
)
from tether.editor.process import DraftProcess, Wished
from tether.files.state import state_folder
from tether.plan.file import plan_from_text, read_plan


TEXT = f"""{HEAD}[base]
time = "1/125"
aperture = "f/8"
iso = 100
frames = 0
[rungs]
times = ["1/125", "1/60"]
[run]
settle_s = 0.0
[readings]
regions = "none"
"""



SOON_S = 15.0



N = TypeVar("N")



class Kept:
    """A face's side: what is known of the draft, folded from what its process tells."""

    def __init__(self, start: Start) -> None:
        self.news: queue.SimpleQueue[EditorEvent] = queue.SimpleQueue()
        self.known = Known()
        self.keeper = Drafting(start, self.news.put)

    def until(self, kind: type[N]) -> N:
        """Return the next news of a kind."""
        until_s = time.monotonic() + SOON_S
        while True:
            news = self.news.get(timeout=until_s - time.monotonic())
            self.known = after(self.known, news)
            if isinstance(news, kind):
                return news
