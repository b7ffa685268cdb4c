"""Frames along an axis of open time: a stop is as wide everywhere, no two lie on one another, lines are few."""

from __future__ import annotations

from itertools import pairwise

import pytest

from tether.report.axis import Axis, axis_for

#: The demonstration's ladder: two stops apart but from 1/15 to 4 s, where it is one.
LADDER = [-9.0, -7.0, -5.0, -4.0, -3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 4.0, 6.0, 8.0]


def overlaps(axis: Axis) -> list[tuple[int, int]]:
    boxes = list(axis.places)
    return [
        (one, other)
        for one in range(len(boxes))
        for other in range(one)
        if (boxes[one].line, boxes[one].row) == (boxes[other].line, boxes[other].row)
        and abs(boxes[one].left - boxes[other].left) < axis.wide
    ]


def test_a_stop_is_as_wide_everywhere_and_the_first_stands_at_the_edge() -> None:
    axis = axis_for([0.0, 1.0, 3.0, 3.5], room=900, least=60, most=400, gap=10)
    assert axis.places[0].left == 0
    for (one, other), stops in zip(pairwise(axis.places), (1.0, 2.0, 0.5), strict=True):
        assert other.left - one.left == pytest.approx(stops * axis.stop, abs=1)


def test_pictures_are_as_wide_as_the_nearest_two_let_them_and_fill_the_room() -> None:
    axis = axis_for([0.0, 1.0, 2.0], room=320, least=60, most=400, gap=10)
    # three of 100 and two gaps of 10
    assert (axis.wide, axis.stop, axis.width) == (100, 110, 320)
    assert overlaps(axis) == []


def test_two_far_apart_are_no_wider_than_is_allowed() -> None:
    axis = axis_for([0.0, 4.0], room=2000, least=60, most=400, gap=10)
    assert (axis.wide, axis.width) == (400, 810)


def test_one_alone_has_the_widest_picture() -> None:
    axis = axis_for([3.0], room=900, least=60, most=400, gap=10)
    assert (axis.wide, axis.width, axis.lines) == (400, 400, 1)


def test_what_does_not_fit_goes_on_in_another_line_at_the_same_scale() -> None:
    axis = axis_for(LADDER, room=1800, least=150, most=400, gap=12)
    assert axis.lines == 2
    assert axis.wide >= 150
    assert axis.width <= 1800
    assert overlaps(axis) == []
    # The halves that leave the longer one shortest: 1/500 to 1/2 s is 8 stops, 1 s to 256 s is 8.
    assert [one.line for one in axis.places] == [0] * 7 + [1] * 6
    assert axis.places[7].left == 0
    assert axis.firsts == (-9.0, 0.0)


def test_frames_of_almost_one_time_stand_one_under_another() -> None:
    axis = axis_for([0.0, 0.0, 0.02, 1.0], room=320, least=60, most=400, gap=10)
    assert [one.row for one in axis.places] == [0, 1, 2, 0]
    assert axis.rows == 3
    assert overlaps(axis) == []


def test_many_frames_are_laid_out_without_lying_on_one_another() -> None:
    axis = axis_for([number / 3 for number in range(60)], room=1800, least=150, most=400, gap=12)
    assert overlaps(axis) == []
    assert axis.width <= 1800


def test_nothing_has_no_places() -> None:
    assert axis_for([], room=900, least=60, most=400, gap=10).places == ()
