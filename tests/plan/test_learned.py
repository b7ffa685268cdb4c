"""What earlier outings tell: medians of three cases and more, for the same body, said with where they are from."""

from __future__ import annotations

import pytest

from tether.plan.learned import (
    Case,
    Figure,
    Learned,
    What,
    figure_words,
    figures,
    forecast_of,
    learned_of,
    learned_words,
    touch_of,
)

BODY = "Canon EOS R5"


def cases(what: What, of: str, *values: float, outings: str = "abc") -> list[Case]:
    """Cases of these values, from outings in turn."""
    return [Case(outing=outings[at % len(outings)], what=what, of=of, value=value) for at, value in enumerate(values)]


def test_a_figure_is_the_median_so_that_one_long_talk_does_not_count() -> None:
    """Sorted 38, 41, 44, 1800: the median is 42.5 s, where the mean would be eight minutes."""
    learned = learned_of(cases("filter change", "screwed", 41, 1800, 38, 44), BODY, cold=False)
    assert learned == Learned(screwed_s=Figure(value=42.5, outings=3))


def test_fewer_than_three_cases_tell_nothing() -> None:
    assert learned_of(cases("copying", BODY, 2.0, 2.2), BODY, cold=False) == Learned()


def test_outings_are_counted_once_however_many_cases_they_have() -> None:
    learned = learned_of(cases("copying", BODY, 2.0, 2.2, 2.1, outings="a"), BODY, cold=False)
    assert learned.copying_s == Figure(value=2.1, outings=1)
    assert learned.copying_s.source == "From 1 outing"


def test_another_body_tells_nothing_of_this_one_but_hands_are_the_same() -> None:
    known = [
        *cases("copying", "Another", 9, 9, 9),
        *cases("battery", "Another", 0.5, 0.5, 0.5),
        *cases("forecast", "Another", 2, 2, 2),
        *cases("filter change", "off", 20, 21, 22),
    ]
    assert learned_of(known, BODY, cold=False) == Learned(off_s=Figure(value=21, outings=3))


def test_cold_fingers_are_told_apart() -> None:
    known = [
        *cases("filter change", touch_of("held", cold=True), 70, 71, 72),
        *cases("filter change", touch_of("held", cold=False), 30, 31, 32),
    ]
    assert learned_of(known, BODY, cold=True).held_s == Figure(value=71, outings=3)
    assert learned_of(known, BODY, cold=False).held_s == Figure(value=31, outings=3)


def three(value: float) -> Figure:
    return Figure(value=value, outings=3)


def test_each_figure_that_counts_is_said_with_where_it_is_from() -> None:
    """Half an hour by forecast: 1.15 times that is 34.5 min, and 18 % an hour is 9 %."""
    learned = Learned(
        screwed_s=three(41),
        held_s=three(12.34),
        off_s=three(118),
        copying_s=Figure(value=2.14, outings=1),
        battery_per_h=three(0.18),
        forecast_factor=three(1.15),
    )
    assert learned_words(learned, ["screwed", "held", "off", "off"], 1800) == (
        "From 3 outings: 41 s to screw a filter on.",
        "From 3 outings: 12 s to slide a filter into its holder.",
        "From 3 outings: 2 min to take a filter off.",
        "From 1 outing: 2.1 s to copy a frame.",
        "From 3 outings: ladders took 1.15 times their forecast, so this one may take 34 min.",
        "From 3 outings: 18 % of a full battery an hour, so about 9 % for this ladder.",
    )


def test_of_a_change_that_this_ladder_does_not_have_nothing_is_said() -> None:
    assert learned_words(Learned(screwed_s=three(41), held_s=three(12)), ["held"], 1800) == (
        "From 3 outings: 12 s to slide a filter into its holder.",
    )


@pytest.mark.parametrize("factor", [0.975, 1.0, 1.025])
def test_ladders_that_took_as_long_as_forecast_are_said_to(factor: float) -> None:
    assert learned_words(Learned(forecast_factor=three(factor)), [], 1800) == (
        "From 3 outings: ladders took as long as forecast.",
    )


def test_a_forecast_that_counts_what_was_learned_is_held_against_its_own_kind_only() -> None:
    """Three ladders took 0.8 of a forecast by habit; since copying is known there is another forecast."""
    known = cases("forecast", BODY, 0.8, 0.8, 0.8)
    assert learned_of(known, BODY, cold=False).forecast_factor == three(0.8)
    known += cases("copying", BODY, 2, 2, 2)
    assert learned_of(known, BODY, cold=False).forecast_factor is None
    known += cases("forecast", forecast_of(BODY, as_learned=True), 1.1, 1.0, 1.2)
    assert learned_of(known, BODY, cold=False).forecast_factor == three(1.1)


def test_all_that_is_known_can_be_said_figure_by_figure() -> None:
    known = [
        *cases("filter change", "off, cold", 71, 72, 73),
        *cases("copying", BODY, 2.1, 2.1, 2.1),
        *cases("battery", BODY, 0.18, 0.18, 0.18),
        *cases("forecast", BODY, 1.15, 1.15, 1.15, outings="a"),
        *cases("copying", "Another", 1, 1),
    ]
    assert [figure_words(what, of, one) for (what, of), one in figures(known).items()] == [
        "From 3 outings: 18 % of a full battery an hour, Canon EOS R5.",
        "From 3 outings: 2.1 s to copy a frame, Canon EOS R5.",
        "From 3 outings: 72 s to take a filter off, in the cold.",
        "From 1 outing: ladders took 1.15 times their forecast, Canon EOS R5.",
    ]


def test_where_nothing_was_learned_nothing_is_said() -> None:
    assert learned_words(Learned(), ["screwed", "off"], 1800) == ()
