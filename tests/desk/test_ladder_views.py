"""What the desk says of a ladder, as text: rungs in columns, why they are so, when it ends, keys and wishes."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from tests.desk.rig import begun, planned
from tests.journal.shown import rung_ended
from tether import wording as words
from tether.desk import ladder_views
from tether.editor.messages import PlanKey
from tether.journal.planned import PlannedProof, PlannedRung
from tether.journal.records import RungBegun
from tether.journal.snapshot import Snapshot, after

NOON = datetime(2026, 10, 3, 12, 0, tzinfo=UTC)


def test_a_rung_that_is_held_longer_is_marked_though_all_else_of_it_is_the_same() -> None:
    ladder = planned()
    rungs = tuple(replace(one, time_s=one.time_s * 1.2) if one.rung == 14 else one for one in ladder.rungs)
    assert ladder_views.changed(ladder, replace(ladder, rungs=rungs)) == {14}
    assert ladder_views.changed(ladder, replace(ladder)) == set()


def test_every_rung_stands_under_the_heads_of_its_columns() -> None:
    """One with a test exposure pushed what it is off by to the right."""
    rungs = (*planned().rungs, replace(planned().rungs[-1], frames=12, bracket_stops=-2.0))
    assert any(rung.proof for rung in rungs)
    for rung in rungs:
        assert len(ladder_views.rung_line(rung, "*")) == len(ladder_views.RUNGS_HEAD)


def test_every_face_counts_the_test_exposures_before_a_rung() -> None:
    """Two without glass and one through it."""
    one = replace(rung(12), bare=(_proof(), _proof()), proof=_proof(), frames=2)
    assert "2 timed, 3 tests" in ladder_views.rung_line(one, "")
    assert "2 timed, test " in ladder_views.rung_line(replace(one, bare=()), "")


def _proof() -> PlannedProof:
    proof = rung(12).proof
    assert proof is not None
    return proof


def rung(number: int) -> PlannedRung:
    found = planned().rung(number)
    assert found is not None
    return found


@pytest.mark.parametrize(("must", "mark", "starts"), [(True, "", " !14"), (False, "*", "* 14"), (True, ">", ">!14")])
def test_a_rung_bears_its_mark_and_that_of_one_that_must_be_had(must: bool, mark: str, starts: str) -> None:
    assert ladder_views.rung_line(replace(rung(14), must=must), mark).startswith(starts)


def test_frames_around_a_rung_are_told_with_it_and_long_names_are_cut() -> None:
    around = replace(rung(14), proof=None, bracket_stops=-1.0, frames=2, filters=("A very long name of a filter",))
    line = ladder_views.rung_line(around, "")
    assert "2 bulb, -1" in line
    assert "A very long nam… " in line
    assert " none " in ladder_views.rung_line(replace(rung(1), filters=()), "")


def test_rungs_that_are_over_or_in_hand_bear_their_sign() -> None:
    snapshot = Snapshot()
    for record in (*begun(), rung_ended(6, "skipped"), RungBegun(rung=7, label="4 s", frames=1)):
        snapshot = after(snapshot, record)
    found = ladder_views.marks(snapshot)
    assert (found[1], found[6], found[7]) == ("=", "-", ">")
    assert 8 not in found


def test_lines_are_cut_to_the_room_and_changed_rungs_are_starred() -> None:
    lines = ladder_views.rungs_of(planned(), {2}, 30)
    assert len(lines) == 14
    assert {len(line) for line in lines} == {30}
    assert [line[0] for line in lines[:3]] == [" ", "*", " "]
    assert all(line.endswith("…") for line in lines)
    assert ladder_views.rungs_of(None, {}, 30) == ()
    assert ladder_views.rungs_of(planned(), {1: ">"}, 200)[0].startswith(">")


def test_nothing_has_changed_where_there_was_nothing_before() -> None:
    ladder = planned()
    assert ladder_views.changed(None, ladder) == ladder_views.changed(ladder, None) == frozenset()
    assert ladder_views.changed(ladder, replace(ladder, rungs=ladder.rungs[1:])) == frozenset()
    must = tuple(replace(one, must=not one.must) if one.rung in (3, 4) else one for one in ladder.rungs)
    assert ladder_views.changed(ladder, replace(ladder, rungs=must)) == {3, 4}


def test_of_a_rung_it_is_said_why_what_it_costs_and_what_comes_before_it() -> None:
    told = ladder_views.rung_told(planned(), 6)
    assert told[0].startswith(f"Rung 6, {words.planned_time(rung(6).time_s)}")
    assert told[0].endswith(rung(6).reason)
    assert any(line.startswith("Before it: fit Calder 6 (") for line in told)
    assert ladder_views.rung_told(planned(), 99) == ()
    other = replace(rung(6), wanted_s=rung(6).wanted_s * 2)
    ladder = replace(planned(), rungs=(other,))
    asked = words.planned_time(other.wanted_s)
    assert f"({asked} was asked for: the nearest that is as bright)" in ladder_views.rung_told(ladder, 6)[0]


def test_a_rung_that_is_to_be_darker_says_so() -> None:
    darker = replace(planned(), rungs=(replace(rung(6), darker_by_stops=0.5),))
    assert ladder_views.rung_told(darker, 6)[1].startswith("The plan wants it 0.5 stop darker than the base. ")
    assert ladder_views.rung_told(planned(), 6)[1].startswith("Costs ")


def test_of_the_whole_it_is_said_how_long_it_takes_and_when_it_ends() -> None:
    ladder = replace(planned(), forecast_s=600.0, leave_by=None)
    assert ladder_views.whole_told(ladder, None)[0] == "14 rungs, 10 min, as it was planned."
    assert ladder_views.whole_told(ladder, NOON)[0] == "14 rungs, 10 min; begun now, it ends at 12:10."
    one = replace(ladder, rungs=ladder.rungs[:1])
    assert ladder_views.whole_told(one, None)[0].startswith("1 rung, ")
    learned = replace(ladder, learned=("From 3 outings: 41 s to screw a filter on.",))
    assert ladder_views.whole_told(learned, None)[-1] == "Learned: From 3 outings: 41 s to screw a filter on."
    tasks = [line for line in ladder_views.whole_told(ladder, None) if line.startswith("Task: ")]
    assert len(tasks) == len(ladder.turns)


# Keys and wishes


def key(**told: object) -> PlanKey:
    empty: dict[str, object] = {"value": "", "default": "", "choices": (), "hint": ""}
    whole = {"key": "rungs.to", "group": "Rungs", "called": "longest", **empty, **told}
    return PlanKey(**whole)  # type: ignore[arg-type]


def test_a_group_is_named_before_its_first_key_and_what_is_empty_shows_what_counts() -> None:
    keys = (key(value="4m"), key(called="shortest", default="1/60"), key(group="Base", called="ISO"))
    assert ladder_views.key_lines(keys, 80) == (
        "Rungs   longest           4m",
        "        shortest          (1/60)",
        "Base    ISO               –",
    )
    assert ladder_views.key_lines(keys[:1], 20) == ("Rungs   longest    …",)


def test_what_a_key_may_be_is_told_with_what_counts_while_it_is_empty() -> None:
    assert ladder_views.key_hint(key(choices=("a", "b"), hint="as you like", default="a")) == (
        "a, b; as you like; (a) counts while it is empty"
    )
    assert ladder_views.key_hint(key()) == ""


@pytest.mark.parametrize(
    ("value", "default", "by", "chosen"),
    [("a", "", 1, "b"), ("c", "", 1, "a"), ("a", "", -1, "c"), ("", "b", 1, "c"), ("", "", 1, "a"), ("", "", -1, "a")],
)
def test_choices_go_round_and_begin_with_the_one_that_counts(value: str, default: str, by: int, chosen: str) -> None:
    assert ladder_views.next_choice(key(value=value, default=default, choices=("a", "b", "c")), by) == chosen


def test_a_wish_is_of_the_rung_that_frames_stand_around() -> None:
    own = replace(rung(3), must=True)
    around = [replace(own, rung=number, bracket_stops=stops) for number, stops in ((4, -1.0), (5, 0.5))]
    after_them = replace(rung(6), bracket_stops=None)
    ladder = replace(planned(), rungs=(own, *around, after_them))
    wished = (own.wanted_label, True, "-1, +0.5")
    assert [ladder_views.wish_of(ladder, number) for number in (3, 4, 5)] == [wished] * 3
    assert ladder_views.wish_of(ladder, 6) == (after_them.wanted_label, after_them.must, "")
    assert ladder_views.wish_of(ladder, 99) is None


@pytest.mark.parametrize(
    ("must", "around", "typed"),
    [
        (True, "-1, +1", "4 s = must, -1, +1"),
        (False, "-1", "4 s = -1"),
        (True, "", "4 s = must"),
        (False, "", "4 s = asked for"),
    ],
)
def test_a_wish_is_typed_as_it_is_read(must: bool, around: str, typed: str) -> None:
    assert ladder_views.wish_typed("4 s", must, around) == typed
