"""Large letters: as large as fits, never larger, every figure another shape."""

from __future__ import annotations

from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tether.desk.letters import drawn
from tether.journal.records import State
from tether.wording import countdown


@given(st.floats(0, 40_000), st.integers(1, 300), st.integers(1, 100))
def test_a_countdown_stays_in_its_room(left_s: float, columns: int, rows: int) -> None:
    lines = drawn(countdown(left_s), columns, rows)
    if lines is not None:
        assert len(lines) <= rows
        assert {len(line) for line in lines} == {len(lines[0])}
        assert len(lines[0]) <= columns
        assert any("█" in line for line in lines)


def test_it_fills_the_width_or_the_height() -> None:
    wide = drawn("12:05", 118, 40)
    assert wide is not None
    assert len(wide[0]) >= 116
    low = drawn("12:05", 118, 9)
    assert low is not None
    assert len(low) == 9


def test_at_eighty_columns_a_countdown_is_large_and_in_no_room_it_is_left_to_plain_letters() -> None:
    lines = drawn("12:05", 78, 9)
    assert lines is not None
    assert len(lines) == 9
    assert drawn("12:05", 24, 9) is None
    assert drawn("12:05", 78, 3) is None
    assert drawn("12:05", 0, 0) is None


def test_every_figure_and_letter_has_a_shape_of_its_own() -> None:
    signs = "0123456789ABCDEFGHIJKLMNPQRSTUVWXYZ:.,+-/"  # the letter O is as the figure
    assert len({drawn(sign, 200, 20) for sign in signs}) == len(signs)


@pytest.mark.parametrize("state", get_args(State))
def test_every_state_can_be_drawn(state: str) -> None:
    assert drawn(state.upper(), 118, 20) is not None


@pytest.mark.parametrize(("columns", "rows", "high"), [(56, 12, 12), (76, 13, 12), (114, 27, 25), (200, 5, 4)])
def test_a_task_is_drawn_on_as_many_lines_as_make_it_largest_and_a_filters_number_stays_at_its_name(
    columns: int, rows: int, high: int
) -> None:
    """Three lines of seven dots, one between, are 23 dots, 12 cells; the last is 53 wide: 2.15 times that at 114."""
    lines = drawn("take off Peat 3, fit Peat 6", columns, rows)
    assert lines is not None
    assert len(lines) == high
    if high > 4:
        last = drawn("fit Peat 6", columns, 4 if high == 12 else 8)
        assert last is not None
        assert lines[-1].strip() == last[-1].strip()
