"""The few pieces that every table in the terminal is made of: plain text first, nothing told by colour alone."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, Literal, TypeVar

from rich import box
from rich.cells import cell_len
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
#: Rows of a long table that are laid out at a time.
_ROWS_AT_ONCE = 100


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
    shown = _shown(columns, width)
    return _laid(shown, [[column.shows(row) for column in shown] for row in rows])


def tables(columns: Iterable[Column[T]], rows: Sequence[T], width: int) -> Iterator[Table]:
    """Yield :func:`table` in parts that look like it one under the other, so that the first is there at once."""
    shown = _shown(columns, width)
    cells = [[column.shows(row) for column in shown] for row in rows]
    widths = _widths(shown, cells, width) if len(rows) > _ROWS_AT_ONCE else None
    if widths is None:
        yield _laid(shown, cells)
        return
    for first in range(0, len(cells), _ROWS_AT_ONCE):
        yield _laid(shown, cells[first : first + _ROWS_AT_ONCE], widths, headed=first == 0)


def _shown(columns: Iterable[Column[T]], width: int) -> list[Column[T]]:
    size = "wide" if width >= WIDE else "narrow"
    return [column for column in columns if column.only in (None, size)]


def _gap(shown: Sequence[Column[T]]) -> int:
    """Return what stands between columns beside the one space that the box has there."""
    return 1 if len(shown) < _MANY_COLUMNS else 0


def _widths(shown: Sequence[Column[T]], cells: Sequence[Sequence[str]], width: int) -> list[int] | None:
    """Return how wide each column is, so that all fit; None where that takes more than one that folds."""
    widths = [
        max(cell_len(column.heading), *(cell_len(row[place]) for row in cells)) for place, column in enumerate(shown)
    ]
    over = sum(widths) + (len(shown) - 1) * (_gap(shown) + 1) - width
    folding = [place for place, column in enumerate(shown) if column.folds]
    for place in folding:
        widths[place] = max(widths[place], _FOLDED_WIDTH)
    if len(folding) != 1:
        return widths if over <= 0 else None
    left = widths[folding[0]] - max(over, 0)
    widths[folding[0]] = left
    return widths if left >= _FOLDED_WIDTH else None


def _laid(
    shown: Sequence[Column[T]],
    cells: Iterable[Sequence[str]],
    widths: Sequence[int] | None = None,
    *,
    headed: bool = True,
) -> Table:
    laid = Table(
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        show_edge=False,
        show_header=headed,
        padding=(0, _gap(shown), 0, 0),
        header_style="bold",
    )
    for place, column in enumerate(shown):
        laid.add_column(
            Text(column.heading),
            justify="right" if column.number else "left",
            no_wrap=not column.folds,
            width=widths[place] if widths else None,
            min_width=_FOLDED_WIDTH if column.folds else None,
            overflow="fold" if column.folds else "ellipsis",
        )
    for row in cells:
        laid.add_row(*map(Text, row))
    return laid


def heading(text: str) -> RenderableType:
    """Set a heading with a blank line above."""
    return Padding(Text(text, style="bold"), (1, 0, 0, 0), expand=False)


def listing(title: str, lines: Sequence[tuple[str, str]]) -> list[RenderableType]:
    """Set lines of (where, what) under a title, long ones hanging under their own beginning; nothing for no lines."""
    return [heading(title), grid([(f"  {where}", what) for where, what in lines])] if lines else []


def grid(rows: Sequence[Sequence[str | Text]]) -> Table:
    """Set rows in columns without heads, of which only the last goes on in a second line: a path is told whole."""
    laid = Table.grid(padding=(0, 2, 0, 0))
    for _ in rows[0][1:] if rows else ():
        laid.add_column(no_wrap=True)
    laid.add_column(overflow="fold")
    for row in rows:
        laid.add_row(*(Text(one) if isinstance(one, str) else one for one in row))
    return laid


def short_path(path: Path) -> str:
    """Write a path as people type it: what lies in their home begins with ``~/``."""
    home = Path.home()
    return f"~/{path.relative_to(home)}" if path.is_relative_to(home) else str(path)
