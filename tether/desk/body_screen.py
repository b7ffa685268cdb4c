"""Body and checks: which plan is worked on, with what, and whether all stands as the ladder needs it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widgets import OptionList

from tether.desk import draft_views
from tether.desk.screens import Asked, MainScreen
from tether.desk.widgets import Key, Lines, TextLine
from tether.editor.messages import Check, Start
from tether.editor.plans import plans_in
from tether.journal.story import CheckStory


class BodyScreen(MainScreen):
    """The body and the checks."""

    CALLED = "body"
    SHOWS = (
        "What is checked before anything is exposed: the camera, the machine, and what the ladder needs of both.\n"
        "STOP: the ladder is not begun, unless you say why it may be all the same. note: worth knowing. ok: fine."
    )
    OWN = (
        ("c", "check it all (again)"),
        ("↑ ↓", "the check"),
        ("o", "override a STOP; you are asked why, for the log"),
        ("B", "begin the ladder"),
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("c", "check", show=False),
        Binding("o", "despite", show=False),
        Binding("B", "app.begin", show=False),
    ]

    def middle(self) -> ComposeResult:
        yield TextLine(id="plan")
        yield TextLine(id="doing")
        yield TextLine(id="told-body")
        with VerticalScroll(id="checks-room", can_focus=False):
            yield Lines(id="checks")

    def on_mount(self) -> None:
        self.query_one("#checks").focus()

    def keys(self) -> Sequence[Key]:
        """Return what can be done with the checks."""
        if self.desk.draft.state is None:
            return (Key(key="enter", label="open this plan", action="screen.open"),) if self._plans() else ()
        return (
            Key(key="c", label="check", action="screen.check"),
            *([Key(key="o", label="override it", action="screen.despite")] if self._stopping() else []),
            Key(key="B", label="begin the ladder", action="app.begin"),
        )

    def draw(self) -> None:
        super().draw()
        known, sight = self.desk.draft.known, self.desk.sight
        self.line("plan", draft_views.plan_line(known.state))
        self.line("doing", draft_views.doing_line(known))
        lines: Sequence[str]
        if known.state is not None:
            self.line("told-body", draft_views.checked_line(known))
            lines = [draft_views.check_line(one, self.desk.draft.despite) for one in self._findings()]
        elif told := self.desk.told():
            self.line("told-body", draft_views.of_run_line(told, sight.state))
            lines = draft_views.checks_of_run(told)
        elif opening := self.desk.draft.opening:
            self.line("told-body", opening)
            lines = ()
        else:
            self.line("told-body", draft_views.NO_PLAN if self._plans() else draft_views.NO_PLAN_HERE)
            lines = [str(one) for one in self._plans()]
        self.query_one("#checks", Lines).say(lines)

    def _plans(self) -> tuple[Path, ...]:
        """Return the plans to choose from: where none is open, and nothing runs."""
        if self.desk.draft.state or self.desk.draft.start or self.desk.told():
            return ()
        return plans_in(Path())

    def _findings(self) -> tuple[CheckStory, ...]:
        checked = self.desk.draft.known.checked
        return draft_views.in_order(checked.findings) if checked else ()

    def _stopping(self) -> CheckStory | None:
        """Return the highlighted check, where it stops."""
        found = self.query_one("#checks", Lines).marked(self._findings())
        return found if found and found.verdict == "stop" else None

    @on(OptionList.OptionHighlighted, "#checks")
    def _other(self) -> None:
        super().draw()

    @on(OptionList.OptionSelected, "#checks")
    def action_open(self) -> None:
        """Open the plan that is highlighted."""
        plan = self.query_one("#checks", Lines).marked(self._plans())
        if plan is not None:
            self.desk.open_plan(Start(path=str(plan)))

    def action_check(self) -> None:
        """Look at it all."""
        self.desk.draft.wish(Check())

    def action_despite(self) -> None:
        """Ask why the ladder may be begun despite the highlighted check."""
        finding = self._stopping()
        if finding is None:
            return

        def keep(reason: str | None) -> None:
            if reason is not None:
                self.desk.draft.despite.pop(finding.what, None)
                if reason.strip():
                    self.desk.draft.despite[finding.what] = reason.strip()
                self.draw()

        asked = Asked(
            "despite a check",
            f"{finding.what}: {finding.text}",
            self.desk.draft.despite.get(finding.what, ""),
            "why it may be begun all the same, for the log",
            keep="override it (empty: do not)",
            leave="back",
        )
        self.app.push_screen(asked, keep)
