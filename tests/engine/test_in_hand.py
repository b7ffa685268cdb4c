"""What is in hand of a run: which state follows which, how frames are numbered, what the body is seen to keep."""

from __future__ import annotations

import pytest

from tether.engine.in_hand import MOVES, InHand, StuckSettings


def test_from_every_state_there_is_a_way_to_the_end() -> None:
    assert all("ended" in after for state, after in MOVES.items() if state != "ended")
    assert MOVES["ended"] == ()


def test_a_move_returns_the_state_before_and_one_that_is_not_allowed_changes_nothing() -> None:
    hand = InHand()
    assert (hand.go("setting"), hand.go("setting"), hand.state) == ("ready", "setting", "setting")
    with pytest.raises(RuntimeError, match="cannot go from setting to open"):
        hand.go("open")
    assert hand.state == "setting"


def test_frames_are_numbered_one_after_the_other() -> None:
    hand = InHand(next_frame=7)
    assert [hand.number_frame(), hand.number_frame(), hand.next_frame] == [7, 8, 9]


def test_of_a_rung_that_begins_no_frame_was_taken_again() -> None:
    hand = InHand(rung=1, retaken=2)
    hand.begin_rung(2)
    assert (hand.rung, hand.retaken) == (2, 0)


def test_settings_that_the_body_keeps_are_forgotten_but_not_what_was_asked() -> None:
    kept = StuckSettings(iso=200.0, asked={"time"})
    assert kept.anything()
    kept.forget()
    assert (kept.anything(), kept.asked) == (False, {"time"})
    assert StuckSettings(aperture=8.0).anything()
