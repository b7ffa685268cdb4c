"""What goes to the browsers as server-sent events: how the run stands, then each change; and what went on meanwhile.

Messages are numbered in this process; a browser that was away says the last number it had, and is told the lines since.
"""

from __future__ import annotations

import asyncio
import secrets
from collections import deque
from collections.abc import AsyncIterator, Callable
from datetime import datetime
from typing import Any

from tether.control.attachment import RunView
from tether.journal.records import LadderOutcome
from tether.page.doors import BrowserSession
from tether.page.pictures import is_live
from tether.page.view import view_of
from tether.report import told
from tether.report.harmless import json_text, plain_data
from tether.wording import REHEARSED_TIME

Data = dict[str, Any]

#: After so long without a change the browsers are told that all is well [s].
BEAT_S = 1.5
#: A run of which nothing was heard for so long, though it was asked, does not answer [s].
SILENT_S = 4.0
#: Lines of what went on that are kept.
LINES_KEPT = 200
#: Messages that may wait for one browser; it is cut off then, and comes again by itself.
MOST_WAITING = 200
#: Browsers that may listen at one time.
MOST_LISTENERS = 24
#: How a ladder ends that the person stopped.
_ASKED: tuple[LadderOutcome, ...] = ("stopped after a frame", "closed and kept", "dropped")


class Feed:
    """All that browsers are told. Used in the server's loop only.

    Parameters
    ----------
    silent_s
        Says for how long nothing was heard of the run [s].
    """

    def __init__(self, silent_s: Callable[[], float]) -> None:
        self._silent_s = silent_s
        self._name = secrets.token_hex(4)
        self._number = 0
        self._lines: deque[Data] = deque(maxlen=LINES_KEPT)
        self._listeners: set[asyncio.Queue[Data | None]] = set()
        self._ending = False
        self.sight = RunView()

    @property
    def full(self) -> bool:
        """Whether no more browsers may listen."""
        return len(self._listeners) >= MOST_LISTENERS

    def publish(self, sight: RunView) -> None:
        """Take in a change and tell it to all who listen."""
        self._number += 1
        for unheard in _said_unheard(self.sight, sight):
            self._add_line(unheard, sight)
        text = _text(self.sight, sight)
        line = self._add_line(text, sight) if text else None
        self.sight = sight
        if self._listeners:
            message = {"number": self._number, "line": line, "view": self._view()}
            for queue in tuple(self._listeners):
                self._put(queue, message)

    def close(self) -> None:
        """Let everyone go who listens."""
        self._ending = True
        for queue in tuple(self._listeners):
            self._put(queue, None)

    async def listen(self, session: BrowserSession, last: str | None) -> AsyncIterator[str]:
        """Yield server-sent events for one browser: a snapshot, every change after it, and beats between.

        Parameters
        ----------
        session
            Whose browser it is.
        last
            The id of the last message it had; None: it comes for the first time.
        """
        queue: asyncio.Queue[Data | None] = asyncio.Queue(MOST_WAITING)
        self._listeners.add(queue)
        try:
            yield self._snapshot(session, last)
            while not self._ending:
                try:
                    message = await asyncio.wait_for(queue.get(), BEAT_S)
                except TimeoutError:
                    yield _event("beat", self._moment())
                    continue
                if message is None:
                    return
                yield _event("change", {**message, **self._moment()}, self._id(message["number"]))
        finally:
            self._listeners.discard(queue)

    def _put(self, queue: asyncio.Queue[Data | None], message: Data | None) -> None:
        if queue.full():
            while not queue.empty():
                queue.get_nowait()
            message = None
        queue.put_nowait(message)

    def _add_line(self, text: str, sight: RunView) -> Data:
        now = sight.clock.utc() if sight.clock else datetime.now().astimezone()
        line = {"number": self._number, "at": f"{now.astimezone():%H:%M:%S}", "text": text}
        self._lines.append(line)
        return line

    def _snapshot(self, session: BrowserSession, last: str | None) -> str:
        data = {
            "number": self._number,
            "lines": list(self._lines),
            "missed_after": self._number_of(last),
            "may_steer": session.may_steer,
            "token": session.token,
        }
        return _event("snapshot", {**data, **self._moment(), "view": self._view()}, self._id(self._number))

    def _view(self) -> Data | None:
        return view_of(self.sight.facts, self.sight.snapshot) if self.sight.facts else None

    def _moment(self) -> Data:
        """Return the run's clock at this moment and whose times it tells, what the light has done, and the link."""
        clock = self.sight.clock
        silent_s = self._silent_s() if self.sight.state == "attached" else 0.0
        return {
            "now_s": clock.now_ns() / 1e9 if clock else None,
            "pace": clock.pace if clock else None,
            "times": REHEARSED_TIME if clock and not clock.tells_the_day else "",
            "light": told.light(self.sight.snapshot, clock.utc() if clock else None),
            "link": _link(self.sight),
            "silent_s": round(silent_s, 1) if silent_s > SILENT_S else 0,
            "live": is_live(),
        }

    def _id(self, number: int) -> str:
        return f"{self._name}-{number}"

    def _number_of(self, last: str | None) -> int | None:
        """Return the number in an id of ours; None where it is of another process, or nonsense."""
        name, _, number = (last or "").partition("-")
        if name != self._name or not (number.isascii() and number.isdigit()) or len(number) > 9:
            return None
        return int(number)


def _said_unheard(before: RunView, sight: RunView) -> list[str]:
    """Return what the run said while nobody here was attached to it."""
    if sight.record is not None:
        return []
    return [said.text for said in sight.snapshot.said if said not in before.snapshot.said]


def _link(sight: RunView) -> Data:
    """Return how the page stands with the run: "attached", "over", "failed", "lost" (it may come back) or "absent"."""
    if sight.state == "attached":
        return {"state": "attached", "sentence": "Attached to the run."}
    why = sight.why_not or sight.why_lost
    if not why:
        return {"state": "absent", "sentence": "No run of this outing is active. This page waits for one."}
    over = sight.snapshot.over
    if sight.state == "over" and over is not None and not sight.why_not:
        as_asked = ", as you asked" if over.outcome in _ASKED else ""
        return {"state": "failed" if over.outcome == "failed" else "over", "sentence": f"The run has ended{as_asked}."}
    return {"state": "lost", "sentence": f"{why} This page waits for it to come back."}


def _text(before: RunView, sight: RunView) -> str | None:
    if sight.record is not None:
        return told.line_of(sight.record, sight.snapshot)
    link = _link(sight)
    return None if link == _link(before) else str(link["sentence"])


def _event(name: str, data: Data, number: str | None = None) -> str:
    """Write a server-sent event; JSON without line breaks is one line of data."""
    head = "" if number is None else f"id: {number}\n"
    return f"{head}event: {name}\ndata: {json_text(plain_data(data), separators=(',', ':'))}\n\n"
