"""A plan to draft on the simulated body, and the side of a face that keeps its process."""

from __future__ import annotations

import queue
import time
from typing import TypeVar

from tests.plan.plans import HEAD
from tether.editor.client import Drafting
from tether.editor.known import Known, after
from tether.editor.messages import (
    EditorEvent,
    Start,
)

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
