"""Every table in the terminal: complete, within the width, and the same without colour."""

from __future__ import annotations

from dataclasses import replace

import pytest
from rich.console import RenderableType

from tests.journal.outings import PLANNED, as_entries, weir
from tests.report.printing import printed
from tests.report.test_tables import log
from tether.journal.records import LadderStarted, RunStarted
from tether.journal.telling import tell
from tether.report.ladder_view import LadderView
from tether.report.tables import LogView


@pytest.mark.parametrize("width", [80, 120, 200])
@pytest.mark.parametrize("view", [LadderView(PLANNED, why=True), LogView(tell(as_entries(weir(end=False)), name="weir",
                                                                              running=False))])  # fmt: skip
def test_nothing_is_wider_than_the_terminal_or_cut(view: RenderableType, width: int) -> None:
    lines = printed(view, width).splitlines()
    assert max(len(line.rstrip()) for line in lines) <= width
    assert not any("…" in line for line in lines if "SIM_" not in line)


def test_square_brackets_in_a_title_are_only_text() -> None:
    odd = [
        replace(one, title="[bold]Weir[/x]") if isinstance(one, LadderStarted)
        else replace(one, camera=replace(one.camera, model="[red]")) if isinstance(one, RunStarted) else one
        for one in weir()
    ]  # fmt: skip
    assert "[bold]Weir[/x]" in log(odd)
    assert "[red]" in log(odd)
    assert "[/b]" in printed(LadderView(replace(PLANNED, plan="[/b]")), 80)


def test_nothing_is_told_by_colour() -> None:
    plain = printed(LadderView(PLANNED), 80)
    styled = printed(LadderView(PLANNED), 80, force_terminal=True, color_system="truecolor")
    assert "\x1b[3" not in styled
    assert styled.replace("\x1b[1m", "").replace("\x1b[0m", "") == plain
