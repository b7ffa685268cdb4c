"""Asks once more before a ladder is begun or resumed: what it is, when it ends, and what stands in its way."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll

from tether.desk.draft_views import Summary
from tether.desk.screens import Over
from tether.desk.widgets import Key, Keys, TextLine


class BeginScreen(Over[None]):
    """Begins the ladder when enter is pressed, where nothing stops it.

    Parameters
    ----------
    called
        What enter does.
    found
        What is said before.
    begin
        Begins it.
    """

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "begin", show=False)]

    def __init__(self, called: str, found: Summary, begin: Callable[[], object]) -> None:
        super().__init__()
        self._called = called
        self._found = found
        self._begin = begin

    def compose(self) -> ComposeResult:
        yield self.head(self._called)
        with VerticalScroll():
            yield TextLine("\n\n".join(self._found.lines), id="question")
        keys = [] if self._found.stopped else [Key(key="enter", label=self._called, action="screen.begin")]
        yield Keys(*keys, Key(key="escape", label="not yet", action="screen.dismiss"))

    def action_begin(self) -> None:
        """Begin it, where nothing stops it."""
        if not self._found.stopped:
            self.dismiss()
            self._begin()
