"""Frames around a rung: brighter and darker, of the same water."""

from __future__ import annotations

import pytest

from tests.plan.plans import (
    BASE,
    SIX,
    TEN,
    ladder_of,
    relative_brightness,
)


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
    assert any(one.startswith("1 of 2 frames around rungs (bracket)") for one in ladder.cautions)
