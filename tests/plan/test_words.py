"""The planner's reasons, and what would make a rung reachable that can't be had."""

from __future__ import annotations

import pytest

from tests.plan.plans import (
    BASE,
    MIRROR,
    SIX,
    TEN,
    ladder_of,
)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[limits]\niso = [100, 400]\naperture_stops = 1.0\n", ["3 stops of light too little", "limits.iso up to"]),
        ("", ["of light too much", "filters of"]),
        ('[limits]\nlongest = "1m"\n' + TEN, ["longer than limits.longest of 1:00 min", "made instead"]),
    ],
)
def test_a_time_out_of_reach_becomes_the_nearest_that_is_not(text: str, words: list[str]) -> None:
    time = "1/8000" if "iso" in text else "2m"
    ladder = ladder_of(BASE + f'[rungs]\ntimes = ["{time}"]\n' + text)
    (rung,) = ladder.rungs
    assert rung.asked != rung.wanted
    (unreached,) = ladder.unreached
    for word in words:
        assert word in unreached.sentence


def test_two_times_out_of_reach_are_one_rung_and_nobody_is_told_that_it_was_asked_for() -> None:
    """Through ten stops f/22 makes 64 s of 1/125 s at f/8; 2:08 and 4:16 are both beyond it."""
    ladder = ladder_of('[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["2:08", "4:16"]\n' + TEN)
    assert len(ladder.rungs) == 1
    first, second = (one.sentence for one in ladder.unreached)
    assert "1:04 min, the nearest possible, is made instead" in first
    assert "1:04 min, the nearest possible, is a rung already" in second


def test_the_remedy_named_for_too_little_light_helps() -> None:
    limits = "[limits]\naperture_stops = 1.0\niso = [100, {}]\n"
    text = BASE + '[rungs]\ntimes = ["1/2000"]\n'
    (unreached,) = ladder_of(text + limits.format(400)).unreached
    assert "limits.iso up to 800" in unreached.sentence
    assert not ladder_of(text + limits.format(800)).unreached


def test_a_body_that_cannot_be_held_says_so_where_many_is_not_wanted() -> None:
    text = '[base]\ntime = "1/30"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["2m"]\nmany = "never"\n' + SIX + TEN
    (unreached,) = ladder_of(text, head=MIRROR).unreached
    assert "has no bulb" in unreached.sentence
    assert "rungs.many" not in unreached.sentence
