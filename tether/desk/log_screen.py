"""The log of the outing; where nothing runs, also what can be started."""

from __future__ import annotations

from typing import ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import ScrollableContainer
from textual.widgets import Static

from tether.desk.screens import MainScreen
from tether.desk.widgets import TextLine
from tether.journal.story import Outing
from tether.report.harmless import plain
from tether.report.printed import Harmless
from tether.report.tables import LogView


class LogScreen(MainScreen):
    """What was really applied."""

    CALLED = "log"
    SHOWS = "What was really applied, as `tether log` tells it. It is read anew whenever the run says something."
    OWN = (("↑ ↓ ← →", "scroll; also page up, page down, home, end"),)
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("end", "end", show=False),
    ]

    def middle(self) -> ComposeResult:
        yield TextLine(id="idle")
        with ScrollableContainer(id="log-room"):
            yield Static(id="log")

    def on_mount(self) -> None:
        super().on_mount()
        self.query_one("#log-room").focus()

    def draw(self) -> None:
        super().draw()
        told = self.desk.told()
        self.query_one("#idle", TextLine).say(self._idle(told))
        log = self.query_one("#log", Static)
        log.update(Harmless(LogView(told)) if told else Text(plain(self.desk.why_not_told or "There is no log yet.")))

    def action_end(self) -> None:
        """Go to the last line."""
        self.query_one("#log-room", ScrollableContainer).scroll_end(animate=False)

    def _idle(self, told: Outing | None) -> str:
        """Say what can be started where nothing runs."""
        sight = self.desk.sight
        if sight.state in ("attached", "lost"):
            return ""
        lines = ["Nothing is running. The desk attaches by itself when a run of this outing begins."]
        if told and told.ladders and told.ladders[-1].outcome != "done":
            lines.append(f"Resume this ladder:  tether run {sight.outing}")
        lines.append(
            "Begin another:  tether desk PLAN  or  tether run PLAN  or, without a camera,  tether rehearse PLAN"
        )
        return "\n".join(lines)
