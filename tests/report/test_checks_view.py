"""Findings of checks in the terminal."""

from __future__ import annotations

import pytest

from tests.report.printing import printed
from tether.body.protocol import Finding
from tether.report.checks_view import AFTER, ChecksView


@pytest.mark.parametrize("width", [80, 120])
def test_findings_fit_the_terminal_with_what_stops_first(width: int) -> None:
    long = "A sentence that is so long that it does not fit into one line of any terminal that a person would use. " * 2
    found = [Finding(what=f"ok {number}", verdict="ok", sentence="Fine.") for number in range(12)]
    found += [Finding(what="a", verdict="note", sentence=long), Finding(what="b", verdict="stop", sentence=long)]
    lines = printed(ChecksView(found), width).splitlines()
    assert max(map(len, lines)) <= width
    assert lines[0].split()[:2] == ["STOP", "b"]
    assert any(line.startswith("note") for line in lines)
    assert sum(line.startswith("ok") for line in lines) == (1 if width == 80 else 12)
    assert printed(ChecksView(found[-1:], AFTER), width).startswith("MISSING")
