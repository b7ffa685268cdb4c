"""What checks found, for the terminal: what stops first, then notes, then what is in order."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from rich.console import Console, ConsoleOptions, RenderableType
from rich.text import Text

from tether.body.protocol import Finding, Verdict
from tether.report.layout import WIDE, grid

CHECKS_SCHEMA, FINISH_SCHEMA, AGREEMENT_SCHEMA = "tether-checks/1", "tether-finish/1", "tether-agreement/1"
#: In a narrow terminal, more than so many things in order are only named, so that all fits on a screen.
MOST_OK = 8
Words = Mapping[Verdict, str]

_ORDER: tuple[Verdict, ...] = ("stop", "note", "ok")
#: What verdicts are called before a run, after one, and where a report is held against a body file.
BEFORE: Words = {"stop": "STOP", "note": "note", "ok": "ok"}
AFTER: Words = {"stop": "MISSING", "note": "to do", "ok": "ok"}
AGAINST: Words = {"stop": "DIFFERS", "note": "note", "ok": "agrees"}


def checks_json(findings: Sequence[Finding], plan: str) -> dict[str, Any]:
    """Return what checks before a run found as plain data, valid by ``checks.schema.json``."""
    stops = any(one.verdict == "stop" for one in findings)
    return {"schema": CHECKS_SCHEMA, "plan": plan, "stops": stops, "checks": _data(findings)}


def finish_json(findings: Sequence[Finding], outing: str) -> dict[str, Any]:
    """Return what was found at the end of an outing as plain data, valid by ``finish.schema.json``."""
    missing = any(one.verdict == "stop" for one in findings)
    return {"schema": FINISH_SCHEMA, "outing": outing, "missing": missing, "found": _data(findings)}


def agreement_json(findings: Sequence[Finding], report: str, body_file: str, tried: str | None) -> dict[str, Any]:
    """Return a report held against a body file as plain data, valid by ``agreement.schema.json``."""
    differs = any(one.verdict == "stop" for one in findings)
    named = {"schema": AGREEMENT_SCHEMA, "report": report, "body_file": body_file}
    return {**named, "differs": differs, "tried": tried, "found": _data(findings)}


def _data(findings: Sequence[Finding]) -> list[dict[str, str]]:
    return [{"what": one.what, "verdict": one.verdict, "sentence": one.sentence} for one in findings]


@dataclass(frozen=True)
class ChecksView:
    """Findings, a block each; a rich renderable that fits itself to the width at hand, from 80 characters up."""

    findings: Sequence[Finding]
    words: Words = field(default_factory=lambda: BEFORE)

    def __rich_console__(self, _console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        rows: list[tuple[str | Text, str, str]] = []
        for verdict in _ORDER:
            meant = [one for one in self.findings if one.verdict == verdict]
            if verdict == "ok" and len(meant) > MOST_OK and options.max_width < WIDE:
                rows.append((self.words[verdict], "all else", ", ".join(one.what for one in meant)))
                continue
            called = Text(self.words[verdict], style="bold" if verdict == "stop" else "")
            rows += [(called, one.what, one.sentence) for one in meant]
        yield grid(rows)
