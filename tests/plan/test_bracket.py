"""Frames around a rung: brighter and darker, of the same water."""

from __future__ import annotations

import pytest

from tests.plan.plans import (
    BASE,
    SIX,
    TEN,
    a_choice,
    abilities_of,
    ladder_of,
    plan_of,
    relative_brightness,
)
from tether.plan.bracket import partner, time_of
from tether.plan.choices import make_space


def test_a_bracket_around_a_long_rung_is_made_by_iso_and_by_shorter_time() -> None:
    """Four minutes two stops over is not sixteen minutes."""
    text = '[base]\ntime = "1/4"\naperture = "f/8"\niso = 100\n[[rung]]\ntime = "4:16"\nbracket = [-2, 2]\nframes = 1\n'
    ladder = ladder_of(text + '[[turn]]\nbefore = "4:16"\nwhat = "shield the glass"\n' + TEN)
    made = [(one.choice.bracket_stops, one.choice.time_s, one.choice.iso.label) for one in ladder.rungs]
    assert made == [(None, 256, "100"), (-2, 64, "100"), (2, 256, "400")]
    assert [one.number for one in ladder.rungs] == [1, 2, 3]
    assert relative_brightness(ladder) == pytest.approx([0, -2, 2])
    assert [turn.what for turn in ladder.turns if turn.kind == "own"] == ["shield the glass"]
    assert ladder.rungs[2].reason == "2 stops brighter than 4:16 min, to blend with it: by ISO 400"


def test_a_frame_around_a_rung_whose_time_is_off_says_what_it_is_made_by() -> None:
    """A filter of 10.1 stops makes 4:16 be held for another time, and so is the frame around it."""
    ten = TEN.replace("10.0", "10.1")
    ladder = ladder_of(BASE + '[[rung]]\ntime = "4:16"\nbracket = [2]\n' + SIX + ten)
    rung, bright = ladder.rungs
    assert rung.choice.time_s != rung.asked.exact
    assert bright.choice.time_s == rung.choice.time_s
    assert bright.reason.endswith(f"to blend with it: by ISO {bright.choice.iso.label}")


def test_a_bracket_around_a_short_rung_is_made_by_time() -> None:
    ladder = ladder_of(BASE + '[[rung]]\ntime = "1/60"\nbracket = [1.0, -1.0]\n')
    assert [one.choice.time_label for one in ladder.rungs] == ["1/60", "1/125", "1/30"]
    assert len({one.choice.aperture for one in ladder.rungs}) == 1


def test_a_bracket_that_cannot_be_had_is_said() -> None:
    ladder = ladder_of(BASE + '[[rung]]\ntime = "1/8000"\nbracket = [-2, 2]\n')
    assert len(ladder.rungs) == 2
    assert any(one.startswith("1 of 2 frames around rungs (bracket)") for one in ladder.notes)


PLAN = plan_of(BASE + '[rungs]\ntimes = ["1/125"]\n')
SPACE = make_space(PLAN, abilities_of(PLAN), ((),))


def test_many_have_no_frames_around_them() -> None:
    assert partner(SPACE, a_choice(way="many", frames=8), -1.0) is None


def test_a_darker_frame_of_a_long_rung_is_shorter_and_a_brighter_one_of_higher_iso() -> None:
    long = a_choice(way="held", time_s=256.0, time_label="bulb")
    darker, brighter = partner(SPACE, long, -2.0), partner(SPACE, long, 2.0)
    assert darker is not None
    assert brighter is not None
    assert (darker.time_s, darker.iso.label, darker.bracket_stops, darker.darker_by_stops) == (64.0, "100", -2.0, 2.0)
    assert (brighter.time_s, brighter.iso.label, brighter.darker_by_stops) == (256.0, "400", -2.0)


def test_a_frame_that_becomes_long_enough_is_timed_by_the_bodys_own_mark() -> None:
    darker = partner(SPACE, a_choice(way="held", time_s=64.0, time_label="bulb"), -3.0)
    assert darker is not None
    assert (darker.way, darker.time_label, time_of(darker).label) == ("timed", "8", "8")


def test_what_would_be_farther_off_than_a_quarter_of_a_stop_is_none() -> None:
    """The body's shortest time is 1/8000 s; three stops darker than 1/2000 s it has nothing near."""
    fastest = SPACE.abilities.times[0]
    short = a_choice(time_s=fastest.exact, time_label=fastest.label)
    assert partner(SPACE, short, -1.0) is None
    assert partner(SPACE, short, -0.2) is not None


def test_a_held_one_is_asked_for_by_the_time_it_is_held() -> None:
    assert time_of(a_choice(way="held", time_s=256.0, time_label="bulb")).label == "4:16"
