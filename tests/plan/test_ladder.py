"""The ladder as records: which frames it makes, in what order, and what is still to come."""

from __future__ import annotations

from tests.plan.plans import BASE, SIX, TEN, a_choice, ladder_of
from tether.plan.ladder import exposures

TEXT = BASE + '[run]\ndark_frames = "{}"\n[rungs]\ntimes = ["1/125", "2m"]\nframes = 2\n' + SIX + TEN
LADDER = ladder_of(TEXT.format("at the end"))


def test_base_frames_come_first_tests_before_their_rung_and_darks_last() -> None:
    """Before the two minutes: what is told without glass (their ISO is the base's; 6400, 200 and 400), and a test."""
    kinds = [(one.kind, one.rung) for one in LADDER.exposures]
    tests = [("proof", 2)] * len(LADDER.rungs[1].tests)
    assert tests
    rungs = [*[("rung", 1)] * 2, *tests, *[("rung", 2)] * 2]
    assert kinds == [*[("base", None)] * 2, *rungs, ("base", None), ("dark", None)]


def test_what_is_only_offered_is_not_counted() -> None:
    offered = ladder_of(TEXT.format("offer"))
    assert [dark.offered for dark in offered.darks] == [True]
    assert "dark" not in [one.kind for one in offered.exposures]


def test_from_a_rung_on_its_own_tests_and_all_after_it_are_to_come() -> None:
    assert LADDER.exposures_from(1) == LADDER.exposures[2:]
    assert LADDER.exposures_from(2) == LADDER.exposures[4:]
    assert LADDER.exposures_from(3) == ()


def test_turns_are_found_by_the_rung_they_come_before() -> None:
    assert [turn.before_rung for turn in LADDER.turns_before(2)] == [2]
    assert [turn.what for turn in LADDER.turns_before(None)] == ["put the cap on"]
    assert LADDER.turns_before(1) == ()


def test_without_rungs_there_are_base_frames_and_darks() -> None:
    made = exposures(LADDER.base_frames, (), LADDER.darks)
    assert [one.kind for one in made] == ["base", "base", "base", "dark"]


def test_many_frames_stand_for_one_of_their_time_together() -> None:
    assert a_choice(way="many", time_s=16.0, frames=8).stands_for_s == 128.0
    assert a_choice().stands_for_s == 2**-7
