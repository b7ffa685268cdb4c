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
from tether.report.layout import Column, table, tables
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


def columns(wide: int, *, folds: bool) -> list[Column[int]]:
    return [
        Column(heading="No", shows=str, number=True),
        Column(heading="Filters", shows=lambda row: "Calder " * (row % wide), folds=folds),
        *(Column[int](heading=f"Column {place}", shows=lambda row: "x" * (row % 7)) for place in range(wide)),
        Column(heading="Name", shows=lambda row: "瀑布" * (row % 3)),
    ]


@pytest.mark.parametrize("width", [60, 80, 110, 200])
@pytest.mark.parametrize(("wide", "folds"), [(2, True), (5, True), (9, True), (3, False), (12, False)])
def test_a_long_table_in_parts_looks_like_one(width: int, wide: int, folds: bool) -> None:
    rows = range(230)
    parts = list(tables(columns(wide, folds=folds), rows, width))
    together = printed(table(columns(wide, folds=folds), rows, width), width)
    assert "".join(printed(part, width) for part in parts) == together
    assert len(parts) in (1, 3)


def test_a_long_table_begins_with_its_first_rows() -> None:
    first, *rest = tables(columns(2, folds=True), range(230), 80)
    assert (first.row_count, [one.row_count for one in rest]) == (100, [100, 30])
