"""Axes of an evening's pictures: round numbers where they belong, words that are broken before they are cut."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from tether.report.drawing import Minutes, Scale, keys_height, minutes_axis, picture, text, ticks, wrapped, written
from tether.report.evening_told import Evening, LightPoint

SIX_S = datetime(2026, 10, 3, 18, 0, tzinfo=UTC).timestamp()


def at(minutes: float) -> LightPoint:
    return LightPoint(frame=1, at_s=SIX_S + 60 * minutes, stops=0.0, doubt_stops=0.01, bare=True)


@pytest.mark.parametrize(
    ("low", "high", "wanted"),
    [
        (-1.2, 0.0, [-1.25, -1.0, -0.75, -0.5, -0.25, 0.0]),
        (-2.9, 0.3, [-3.0, -2.5, -2.0, -1.5, -1.0, -0.5, 0.0, 0.5]),
        (-12.0, 0.0, [-12, -10, -8, -6, -4, -2, 0]),
        (0.0, 0.01, [0.0, 0.25]),
    ],
)
def test_ticks_are_round_numbers_around_the_values(low: float, high: float, wanted: list[float]) -> None:
    assert ticks(low, high) == pytest.approx(wanted)


def test_minutes_are_counted_down_to_leaving() -> None:
    """From 18:00, leaving at 18:40, on 400 px: 10 px a minute, so a label every 5 minutes, the last one 0."""
    scale = Scale(low=SIX_S, high=SIX_S + 2400, start=0, end=400)
    found = list(Minutes(scale=scale, zero_s=SIX_S + 2400, until=True).ticks())
    assert found == [(50.0 * n, str(40 - 5 * n)) for n in range(9)]


def test_minutes_after_leaving_are_below_zero() -> None:
    scale = Scale(low=SIX_S, high=SIX_S + 1200, start=0, end=100)
    labels = [label for _, label in Minutes(scale=scale, zero_s=SIX_S + 600, until=True).ticks()]
    assert labels == ["10", "0", "−10"]


def test_where_nobody_said_when_they_leave_minutes_are_counted_from_the_beginning() -> None:
    axis = minutes_axis(Evening(begins_s=SIX_S, light=(at(0), at(30)), over=True), 0, 312, None)
    assert not axis.until
    assert [label for _, label in axis.ticks()] == ["0", "5", "10", "15", "20", "25", "30"]


def test_the_axis_goes_on_to_leaving_while_the_evening_lasts_and_no_farther_than_its_frames_when_it_is_over() -> None:
    lasts = Evening(begins_s=SIX_S, leave_s=SIX_S + 7200, light=(at(0), at(30)))
    assert minutes_axis(lasts, 0, 300, SIX_S + 1900).scale.high == pytest.approx(SIX_S + 7200 * 1.02)
    over = Evening(begins_s=SIX_S, leave_s=SIX_S + 7200, light=(at(0), at(30)), over=True)
    assert minutes_axis(over, 0, 300, None).scale.high == pytest.approx(SIX_S + 1800 * 1.02)


def test_words_are_broken_between_words() -> None:
    assert wrapped("take off Calder 6, fit Calder 10", 160) == ["take off Calder 6,", "fit Calder 10"]
    assert wrapped("Unbreakablenameofafilter", 40) == ["Unbreakablenameofafilter"]


def test_what_is_explained_takes_as_many_rows_as_the_width_asks_for() -> None:
    keys = [("bare", "frame without filters"), ("filtered", "frame through filters")]
    assert keys_height(keys, 300) == 2 * keys_height(keys, 600)


def test_marks_of_the_language_in_words_are_text() -> None:
    svg = picture("Weir <&>", 10, 10)
    text(svg, 0, 0, "<b>\x1b")
    assert "Weir &lt;&amp;&gt;" in written(svg)
    assert "&lt;b&gt;␛" in written(svg)
