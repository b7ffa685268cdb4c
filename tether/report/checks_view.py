"""What checks found, for the terminal: what stops first, then notes, then what is in order."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from rich.console import Console, ConsoleOptions, RenderableType
from rich.table import Table
from rich.text import Text

from tether.body.protocol import Finding, Verdict
from tether.report.layout import WIDE

#: In a narrow terminal, more than so many things in order are only named, so that all fits on a screen.
MOST_OK = 8
Words = Mapping[Verdict, str]

_ORDER: tuple[Verdict, ...] = ("stop", "note", "ok")
#: What verdicts are called before a run, and after one.
BEFORE: Words = {"stop": "STOP", "note": "note", "ok": "ok"}
AFTER: Words = {"stop": "MISSING", "note": "to do", "ok": "ok"}


@dataclass(frozen=True)
class ChecksView:
    """Findings, a block each; a rich renderable that fits itself to the width at hand, from 80 characters up."""

    findings: Sequence[Finding]
    words: Words = field(default_factory=lambda: BEFORE)

    def __rich_console__(self, _console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        grid = Table.grid(padding=(0, 2, 0, 0))
        grid.add_column(no_wrap=True)
        grid.add_column(no_wrap=True)
        grid.add_column()
        for verdict in _ORDER:
            meant = [one for one in self.findings if one.verdict == verdict]
            if verdict == "ok" and len(meant) > MOST_OK and options.max_width < WIDE:
                grid.add_row(Text(self.words[verdict]), Text("all else"), Text(", ".join(one.what for one in meant)))
                continue
            for one in meant:
                style = "bold" if verdict == "stop" else ""
                grid.add_row(Text(self.words[verdict], style=style), Text(one.what), Text(one.sentence))
        yield grid
