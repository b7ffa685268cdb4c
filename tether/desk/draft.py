"""The plan that is worked on at the desk: what its process told last, and wishes to it."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Protocol

from tether.editor.client import Drafting
from tether.editor.messages import (
    Checked,
    Doing,
    Drafted,
    DraftFrame,
    EditorEvent,
    EditorRequest,
    Halt,
    Nudge,
    PictureShown,
    ShowLive,
    Start,
    WishAnswer,
)

#: Frames for the base that are kept to look at.
_FRAMES = 12


class Keeps(Protocol):
    """What the desk needs of the keeper of the process; see :class:`tether.editor.client.Drafting`."""

    def open(self) -> None: ...
    def wish(self, wish: EditorRequest) -> int: ...
    def close(self) -> None: ...
    def wait(self) -> None: ...


@dataclass(frozen=True, kw_only=True)
class Known:
    """What is known of the draft.

    Attributes
    ----------
    state, checked, checked_text
        The plan and the checks as told last, None before; and what the plan said then.
    frames
        The frames taken for the base, oldest first.
    live
        The live picture; None where there is none.
    doing
        What is going on; empty: nothing.
    said, refused
        The last sentence that was answered, and whether it was a refusal.
    answered
        The number of the last wish that was answered.
    """

    state: Drafted | None = None
    checked: Checked | None = None
    checked_text: str = ""
    frames: tuple[DraftFrame, ...] = ()
    live: PictureShown | None = None
    doing: str = ""
    said: str = ""
    refused: bool = False
    answered: int = 0


def after(known: Known, news: EditorEvent) -> Known:
    """Return what is known once something more was told."""
    match news:
        case Drafted():
            return replace(known, state=news)
        case Checked():
            return replace(known, checked=news, checked_text=known.state.text if known.state else "")
        case DraftFrame():
            return replace(known, frames=(*known.frames, news)[-_FRAMES:], live=None)
        case PictureShown():
            return replace(known, live=news if news.picture else None)
        case Doing():
            return replace(known, doing=news.what)
        case WishAnswer():
            return replace(known, said=news.sentence, refused=not news.ok, answered=max(known.answered, news.to))
    return known


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

    def halt(self) -> None:
        """End what is going on at the camera."""
        self.wish(Halt())

    def rest(self) -> None:
        """End the process, which lets the camera go; what is known of the draft stays, and a wish begins another."""
        self.known = replace(self.known, live=None, doing="")
        if self._keeper is not None:
            self._keeper.close()

    def wait(self) -> None:
        """Wait until the camera is let go."""
        if self._keeper is not None:
            self._keeper.wait()


def plans_in(folder: Path) -> tuple[Path, ...]:
    """Return the files in a folder that look like plans, by name."""
    return tuple(sorted(one for one in folder.glob("*.toml") if _is_plan(one)))


def _is_plan(path: Path) -> bool:
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError):
        return False
    return {"body", "lens", "base"} <= data.keys()
