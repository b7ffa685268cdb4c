"""The plan that is worked on at the desk: what its process told last, and wishes to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Protocol

from tether.editor.client import Drafting
from tether.editor.known import Known, after
from tether.editor.messages import (
    Drafted,
    EditorEvent,
    EditorRequest,
    Nudge,
    ShowLive,
    Start,
)


class Keeps(Protocol):
    """What the desk needs of the keeper of the process; see :class:`tether.editor.client.Drafting`."""

    def open(self) -> None: ...
    def wish(self, wish: EditorRequest) -> int: ...
    def close(self) -> None: ...
    def wait(self) -> None: ...


class DraftView:
    """The draft as the screens see it.

    Parameters
    ----------
    start
        The plan that is opened at once; None: none yet.
    tell
        Given all news, in another thread.
    keep
        Makes the keeper of the process.
    """

    def __init__(
        self,
        start: Start | None,
        tell: Callable[[EditorEvent], None],
        keep: Callable[[Start, Callable[[EditorEvent], None]], Keeps] = Drafting,
    ) -> None:
        self._tell = tell
        self._keep = keep
        self._keeper: Keeps | None = None
        self.start = start
        self.known = Known()
        self.despite: dict[str, str] = {}
        """Checks that are not to stop the run, each with the person's reason."""

    @property
    def state(self) -> Drafted | None:
        """The plan as it stands; None: none is open."""
        return self.known.state

    @property
    def opening(self) -> str:
        """Say that a plan is being opened; empty where none is, or it could not be."""
        opens = self.start is not None and self.state is None and not self.known.refused
        return f"{self.start.path} is being opened." if self.start and opens else ""

    @property
    def pace(self) -> float:
        """How many seconds of its run pass in a real one: 1, but for a rehearsal."""
        return self.start.pace if self.start and self.state and self.state.simulated else 1.0

    def open(self, start: Start | None = None) -> None:
        """Open a plan, or the one it was begun with; without one nothing happens."""
        self.start = start or self.start
        if self.start is None or (start is None and self._keeper is not None):
            return
        self.rest()
        self.known = Known()
        self._keeper = self._keep(self.start, self._tell)
        self._keeper.open()

    def wish(self, wish: EditorRequest) -> int:
        """Send a wish and return its number; 0 where no plan is open."""
        if self._keeper is None:
            return 0
        self.known = replace(self.known, said="", refused=False)
        if self.known.live is not None and not isinstance(wish, ShowLive | Nudge):
            self.known = replace(self.known, live=None)
        return self._keeper.wish(wish)

    def hear(self, news: EditorEvent) -> None:
        """Take in what was told."""
        self.known = after(self.known, news)

    def forget(self) -> None:
        """Forget what was answered last: the person has gone on to something else."""
        self.known = replace(self.known, said="", refused=False)

    def rest(self) -> None:
        """End the process, which lets the camera go; what is known of the draft stays, and a wish begins another."""
        self.known = replace(self.known, live=None, doing="")
        if self._keeper is not None:
            self._keeper.close()

    def wait(self) -> None:
        """Wait until the camera is let go."""
        if self._keeper is not None:
            self._keeper.wait()
