"""The few pieces that every table in the terminal is made of: plain text first, nothing told by colour alone."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, Literal, TypeVar

from rich import box
from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

T = TypeVar("T")

#: From this many columns on there is room for everything.
WIDE = 110
#: From so many columns on they stand closer.
_MANY_COLUMNS = 10
#: What a column that folds is left with at least: a word or two.
_FOLDED_WIDTH = 12


@dataclass(frozen=True, kw_only=True)
class Column(Generic[T]):
    """One column: its heading and what it shows of a row.

    Attributes
    ----------
    number
        Whether it is set flush right, as numbers are.
    only
        "wide" or "narrow": left out where the terminal is not so, see `WIDE`.
    folds
        Whether its words may go on in a second line; the others stay on one.
    """

    heading: str
    shows: Callable[[T], str]
    number: bool = False
    only: Literal["wide", "narrow"] | None = None
    folds: bool = False


def table(columns: Iterable[Column[T]], rows: Sequence[T], width: int) -> Table:
    """Lay out rows as a table for a terminal `width` characters wide."""
    size = "wide" if width >= WIDE else "narrow"
    shown = [column for column in columns if column.only in (None, size)]
    gap = 1 if len(shown) < _MANY_COLUMNS else 0  # beside the one space that the box has between columns
    laid = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, padding=(0, gap, 0, 0), header_style="bold")
    for column in shown:
        laid.add_column(
            Text(column.heading),
            justify="right" if column.number else "left",
            no_wrap=not column.folds,
            min_width=_FOLDED_WIDTH if column.folds else None,
            overflow="fold" if column.folds else "ellipsis",
        )
    for row in rows:
        laid.add_row(*(Text(column.shows(row)) for column in shown))
    return laid


def heading(text: str) -> RenderableType:
    """Set a heading with a blank line above."""
    return Padding(Text(text, style="bold"), (1, 0, 0, 0), expand=False)


def listing(title: str, lines: Sequence[tuple[str, str]]) -> list[RenderableType]:
    """Set lines of (where, what) under a title, long ones hanging under their own beginning; nothing for no lines."""
    if not lines:
        return []
    grid = Table.grid(padding=(0, 2, 0, 0))
    grid.add_column(no_wrap=True)
    grid.add_column(overflow="fold")  # a path is told whole
    for where, what in lines:
        grid.add_row(Text(f"  {where}"), Text(what))
    return [heading(title), grid]


def short_path(path: Path) -> str:
    """Write a path as people type it: what lies in their home begins with ``~/``."""
    home = Path.home()
    return f"~/{path.relative_to(home)}" if path.is_relative_to(home) else str(path)
