"""The light of an evening as lines of text: points in the column and row that the labels say."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from tests.report.test_light_picture import EVENING, before
from tether.desk.course_lines import light_lines


def lines(width: int = 118, *, now_s: float | None = None) -> tuple[str, ...]:
    return light_lines(EVENING, width, 10, now_s)


def of(drawn: tuple[str, ...], sign: str) -> list[tuple[int, int]]:
    """Return the places of a sign in the plot: column and row."""
    return [(column, row) for row, line in enumerate(drawn[:11]) for column, one in enumerate(line) if one == sign]


def axis(drawn: tuple[str, ...]) -> dict[int, float]:
    """Return the column of the middle of each label of minutes."""
    row = next(line for line in drawn if re.fullmatch(r"[\d ]+", line) and "60" in line)
    return {int(one.group()): one.start() + len(one.group()) // 2 for one in re.finditer(r"\d+", row)}


@pytest.mark.parametrize("width", [58, 78, 118, 158])
def test_points_stand_in_the_column_of_their_minute(width: int) -> None:
    """Minutes 60 and 20 without filters, 52.5 and 31 through filters; one column is a minute or more."""
    drawn = lines(width)
    at = axis(drawn)
    per_minute = (at[0] - at[60]) / 60
    for sign, minutes in (("●", (60, 20)), ("○", (52.5, 31))):
        found = [column for column, _ in sorted(of(drawn, sign))]
        assert found == pytest.approx([at[60] + (60 - one) * per_minute for one in minutes], abs=1.01)


def test_points_stand_in_the_row_of_their_stops() -> None:
    """From 0 to -3 in ten rows, half a stop 1.5 rows: 0.0 in the first, -2.1 seven rows below it."""
    drawn = lines()
    rows = {line[:7].strip(): row for row, line in enumerate(drawn[:11]) if line[:7].strip()}
    assert (rows["0"], rows["−3"]) == (1, 10)
    assert [row for _, row in sorted(of(drawn, "●"))] == [1, 1 + round(2.1 * 3)]


def test_corrections_stand_whole_below_their_moment() -> None:
    drawn = lines()
    at = axis(drawn)
    (row,) = [line for line in drawn if "▲+0.33" in line]
    assert row.index("▲") == pytest.approx(at[60] + (at[0] - at[60]) / 8, abs=1.01)  # 52.5 is an eighth of the way
    assert "▼−0.25" in row


def test_now_and_leaving_are_lines_from_top_to_bottom() -> None:
    drawn = lines(now_s=before(15))
    at = axis(drawn)
    columns = {column for column, _ in of(drawn, "┊")}
    assert len(columns) == 1
    assert columns.pop() == pytest.approx(at[60] + (at[0] - at[60]) * 0.75, abs=1.01)
    leaving = {column for column, _ in of(drawn, "│")}
    assert len(leaving) == 1
    assert leaving.pop() == pytest.approx(at[0], abs=1.01)
    assert any("┊ now" in line for line in drawn)
    assert not of(lines(), "┊")


def test_nothing_is_wider_than_its_room() -> None:
    for width in (48, 58, 78, 118):
        assert max(map(len, lines(width, now_s=before(15)))) <= width


def test_where_there_is_no_course_or_no_room_nothing_is_drawn() -> None:
    assert light_lines(replace(EVENING, light=EVENING.light[:1]), 118, 10, None) == ()
    assert light_lines(EVENING, 47, 10, None) == ()
    assert light_lines(EVENING, 118, 3, None) == ()
