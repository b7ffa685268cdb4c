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
