"""Asks once more before a ladder is begun: what it is, when it ends, and what stands in its way."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll

from tether.desk import draft_views
from tether.desk.screens import Over
from tether.desk.widgets import Key, Keys, TextLine


class BeginScreen(Over[None]):
    """Begins the ladder when enter is pressed.

    Parameters
    ----------
    begin
        Begins it.
    outing
        The outing that it is added to; None: a new one.
    """

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "begin", show=False)]

    def __init__(self, begin: Callable[[], None], outing: Path | None) -> None:
        super().__init__()
        self._outing = outing
        self._begin = begin
        self._stopped = False

    def compose(self) -> ComposeResult:
        draft = self.desk.draft
        now = self.desk.moments.wall()
        found = draft_views.summary(draft.known, draft.despite, now, draft.pace, self._outing)
        self._stopped = found.stopped
        yield self.head("begin")
        with VerticalScroll():
            yield TextLine("\n\n".join(found.lines), id="question")
        keys = [] if found.stopped else [Key(key="enter", label="begin", action="screen.begin")]
        yield Keys(*keys, Key(key="escape", label="not yet", action="screen.dismiss"))

    def action_begin(self) -> None:
        """Begin it, where nothing stops it."""
        if not self._stopped:
            self.dismiss()
            self._begin()
