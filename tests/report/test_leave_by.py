"""Rungs that must be had are not crowded out by others."""

from __future__ import annotations

from tether.report.leave_by import left_out


def test_without_marks_rungs_are_taken_while_they_fit() -> None:
    assert left_out([10, 20, 30], [False] * 3, 60) == ()
    assert left_out([10, 20, 30], [False] * 3, 45) == (2,)
    assert left_out([10, 40, 5], [False] * 3, 20) == (1,)


def test_one_that_must_be_had_keeps_its_time() -> None:
    assert left_out([10, 20, 30], [False, False, True], 45) == (1,)
    assert left_out([10, 20, 30], [False, False, True], 35) == (0, 1)
    assert left_out([10, 20, 30], [True, False, True], 45) == (1,)


def test_where_even_those_do_not_fit_the_others_went_first() -> None:
    assert left_out([10, 20, 30], [False, True, True], 40) == (0, 2)
