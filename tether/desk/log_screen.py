"""The log of the outing; where nothing runs, also what can be started."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import ClassVar

from rich.console import Console, ConsoleOptions, RenderableType
from rich.segment import Segment
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import ScrollableContainer
from textual.widgets import Static

from tether.desk import views
from tether.desk.course_lines import light_lines
from tether.desk.screens import MainScreen
from tether.desk.widgets import Key, TextLine
from tether.journal.story import Outing
from tether.report.evening_asked import ask_evening
from tether.report.evening_told import Evening
from tether.report.harmless import plain
from tether.report.printed import Harmless
from tether.report.tables import LogView

#: From so many lines on there is room for the light of the evening above the log.
_COURSE_FROM = 36


@dataclass(frozen=True)
class _Rendered:
    """What is rendered only once for each width, however often a screen asks for it: a long log takes a while."""

    what: RenderableType
    _segments: dict[int, list[Segment]] = field(default_factory=dict)

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterable[Segment]:
        if options.max_width not in self._segments:
            self._segments[options.max_width] = list(Segment.simplify(console.render(self.what, options)))
        return self._segments[options.max_width]


class LogScreen(MainScreen):
    """What was really applied."""

    CALLED = "log"
    SHOWS = (
        "What was really applied, as `tether log` tells it. It is read anew whenever the run says something.\n"
        "Above it, where there is room: the light over the evening, in stops against the base frames."
    )
    OWN = (
        ("↑ ↓ ← →", "scroll; also page up, page down, home, end"),
        ("B", "where a ladder is not done and nothing runs: resume it"),
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("end", "end", show=False),
    ]

    _told: Outing | None = None
    _evening: Evening | None = None
    _read = 0

    def middle(self) -> ComposeResult:
        yield TextLine(id="idle")
        yield TextLine(id="course", classes="rows")
        with ScrollableContainer(id="log-room"):
            yield Static(id="log")

    def on_mount(self) -> None:
        self.query_one("#log-room").focus()

    def draw(self) -> None:
        super().draw()
        told = self.desk.told()
        self.line("idle", *self._idle())
        self._course(told)
        log = self.query_one("#log", Static)
        if told is None:
            log.update(Text(plain(self.desk.why_not_told or "There is no log yet.")))
        elif told is not self._told:
            log.update(_Rendered(Harmless(LogView(told))))
        self._told = told

    def _course(self, told: Outing | None) -> None:
        """Draw the light of the evening where there is room; have it worked out anew where a frame more was read."""
        read = sum(one.readings is not None for one in told.ladders[-1].frames) if told and told.ladders else 0
        room = self.size.height >= _COURSE_FROM
        if room and read > 1 and read != self._read:
            self._read = read
            self.run_worker(self._work_out, thread=True, exclusive=True)
        now_s = self.desk.sight.clock.utc().timestamp() if self.desk.sight.clock else None
        lines: tuple[str, ...] = ()
        if room and self._evening is not None:
            now_s = None if self._evening.over else now_s
            lines = light_lines(self._evening, self.size.width - 2, self.size.height // 4, now_s)
        self.line("course", "\n".join(lines))

    def _work_out(self) -> None:
        outing = self.desk.sight.outing
        self._evening = ask_evening(outing, "desk") if outing else None
        self.app.call_from_thread(self.draw)

    def keys(self) -> Sequence[Key]:
        """Return what can be done where nothing runs."""
        return self.desk.key_to_resume()

    def action_end(self) -> None:
        """Go to the last line."""
        self.query_one("#log-room", ScrollableContainer).scroll_end(animate=False)

    def _idle(self) -> tuple[str, ...]:
        """Say what can be started where nothing runs."""
        if self.desk.runs:
            return ()
        return (
            "Nothing is running. The desk attaches by itself when a run of this outing begins.",
            *views.to_resume(self.desk.sight.outing, self.desk.unfinished),
            "Begin another:  tether desk PLAN  or  tether run PLAN  or, without a camera,  tether rehearse PLAN",
        )
