"""A filter that is not in the bag: said, proposed, agreed to or not, logged, and taken back.

Base 1/60 s (exactly 1/64), f/8 to f/22, ISO 100: 1 s is six stops, 8 s nine, a minute twelve.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.engine.rig import SIX, TEN, Worked, work
from tether.control.commands import Verb
from tether.journal.records import FrameOpened, Record, RungBegun, Steered, Turn
from tether.journal.snapshot import Snapshot, after, asks

HEAD = '[base]\ntime = "1/60"\naperture = "f/8"\niso = 100\nframes = 0\n'
LIMITS = '[limits]\naperture = ["f/8", "f/22"]\niso = [100, {iso}]\n[run]\nproof = false\ndark_frames = "none"\n'
ASKED = "Calder 10 is not in the bag: plan again without it?"


def a_plan(times: str, iso: int = 100) -> str:
    return f"{HEAD}{LIMITS.format(iso=iso)}[rungs]\ntimes = [{times}]\nframes = 1\n{SIX}{TEN}"


def without(name: str, then: Verb = "answer", once: list[str] | None = None) -> Callable[[Record], Verb | None]:
    """Say of one filter that it is not there, and a word to what is proposed; answer all other tasks."""
    said = [] if once is None else once

    def when(event: Record) -> Verb | None:
        if not asks(event):
            return None
        if event.what.endswith("?"):
            return then
        if f"fit {name}" in event.what and not (said and once is not None):
            said.append(event.what)
            return "not in the bag"
        return "answer"

    return when


def frames(worked: Worked) -> list[tuple[int | None, tuple[str, ...]]]:
    return [(one.rung, one.filters) for one in worked.frames if one.kind == "rung" and not one.void]


def turns(worked: Worked) -> list[tuple[str, str]]:
    return [(one.what, one.state) for one in worked.events if isinstance(one, Turn) and one.state != "asked"]


def test_the_rest_is_made_without_it_once_that_is_agreed_to(tmp_path: Path) -> None:
    """1 s through Calder 10 by ISO 1600 instead of Calder 6; it is asked for once, though two rungs were planned so."""
    worked = work(tmp_path, a_plan('"1/60", "1", "2"', iso=1600), when=without("Calder 6"), answer_for_me=False)
    assert worked.outcome == "done"
    assert frames(worked) == [(1, ()), (2, ("Calder 10",)), (3, ("Calder 10",))]
    assert [what for what, _ in turns(worked)] == [
        "fit Calder 6",
        "Calder 6 is not in the bag: plan again without it?",
        "fit Calder 10",
    ]
    (asked,) = [one for one in worked.events if asks(one) and one.what.endswith("?")]
    assert isinstance(asked, Turn)
    assert asked.reason.startswith("rungs 2 and 3 are made with Calder 10"), "said before it is done"
    assert asked.otherwise == "“fit Calder 6” is asked again"


def test_what_nothing_else_makes_is_left_out_and_not_asked_for_again(tmp_path: Path) -> None:
    worked = work(tmp_path, a_plan('"1/60", "8", "1:04", "2:08"'), when=without("Calder 10"), answer_for_me=False)
    assert worked.outcome == "done in part"
    assert frames(worked) == [(1, ()), (2, ("Calder 6",))]
    assert worked.rung_outcomes() == ["done", "done", "left out", "left out"]
    assert {one.note for one in worked.ladder.rungs[2:]} == {"Calder 10 is not in the bag"}
    assert sum("fit Calder 10" in what for what, _ in turns(worked)) == 1
    assert any(one.verb == "not in the bag" for one in worked.ladder.steering), "it is in the log"


def test_no_asks_for_the_filter_again(tmp_path: Path) -> None:
    worked = work(tmp_path, a_plan('"1/60", "1:04"'), when=without("Calder 10", "skip", once=[]), answer_for_me=False)
    assert worked.outcome == "done"
    assert turns(worked) == [
        ("fit Calder 10", "not done"),
        (ASKED, "not done"),
        ("fit Calder 10", "answered"),
    ]


def test_of_two_filters_each_is_spoken_of_until_it_is_the_one(tmp_path: Path) -> None:
    """2 minutes and a half hour through both; the one that is there is the first."""
    said: list[str] = []

    def when(event: Record) -> Verb | None:
        if not asks(event):
            return None
        if event.what.endswith("?"):
            said.append(event.what)
            return "answer" if "Calder 10" in event.what else "skip"
        return "not in the bag" if "+" in event.what else "answer"

    worked = work(tmp_path, a_plan('"1/60", "17m"'), when=when, answer_for_me=False)
    assert said == ["Calder 6 is not in the bag: plan again without it?", ASKED]
    assert frames(worked) == [(1, ()), (2, ("Calder 6",))]


def test_where_no_filter_is_asked_for_nothing_changes(tmp_path: Path) -> None:
    worked = work(tmp_path, a_plan('"1/60"'), said=[(0.0, "not in the bag")])
    (steered,) = worked.ladder.steering
    assert steered.effect == "no filter is asked for now, so nothing changed"


def test_it_is_taken_back_while_a_rung_that_is_made_another_way_is_worked(tmp_path: Path) -> None:
    once: list[str] = []
    said = without("Calder 6", once=once)
    back: list[bool] = []

    def when(event: Record) -> Verb | None:
        if once and not back and asks(event) and event.what == "fit Calder 10":
            back.append(True)
            return "take back"
        return said(event)

    worked = work(tmp_path, a_plan('"1/60", "1"', iso=1600), when=when, answer_for_me=False)
    assert worked.outcome == "done"
    assert frames(worked) == [(1, ()), (2, ("Calder 6",))]
    assert ("Calder 6 is not in the bag: plan again without it?", "taken back") in turns(worked)


@pytest.mark.parametrize("lost", [1, 2])
def test_it_is_taken_back_also_while_the_rung_after_those_that_were_lost_is_worked(tmp_path: Path, lost: int) -> None:
    """8 s was not lost, and comes after a minute: while it is worked what was lost is open again, and made first."""
    once: list[str] = []
    said = without("Calder 10", once=once)
    back: list[bool] = []

    def when(event: Record) -> Verb | None:
        if once and not back and isinstance(event, RungBegun) and event.rung == lost + 1:
            back.append(True)
            return "take back"
        return said(event)

    times = ", ".join(['"8"', '"1:04"', '"2:08"'][: lost + 1])
    plan = a_plan(times).replace("[rungs]", '[rungs]\norder = "long first"')
    worked = work(tmp_path, plan, when=when, answer_for_me=False)
    assert worked.outcome == "done"
    assert frames(worked) == [*((rung, ("Calder 10",)) for rung in range(1, lost + 1)), (lost + 1, ("Calder 6",))]
    assert set(worked.rung_outcomes()) == {"done"}


def test_faces_are_told_the_ladder_as_it_is_and_what_can_be_taken_back(tmp_path: Path) -> None:
    plan = a_plan('"1/60", "8", "1:04"').replace("[rungs]", '[rungs]\norder = "long first"')
    worked = work(tmp_path, plan, when=without("Calder 10"), answer_for_me=False)
    snapshot, told = Snapshot(), {}
    for event in worked.events:
        snapshot = after(snapshot, event)
        if isinstance(event, RungBegun | FrameOpened):
            told[type(event), event.rung] = snapshot.done and snapshot.done.what
        if isinstance(event, Steered) and event.verb == "not in the bag":
            assert event.effect == "what a ladder without Calder 10 is like is said before anything changes"
    assert told[RungBegun, 2] == ASKED
    assert told[FrameOpened, 2] == "fit Calder 6"
    assert told[RungBegun, 3] is None
    assert snapshot.planned is not None
    assert [(one.before_rung, one.what) for one in snapshot.planned.turns] == [
        (2, "fit Calder 6"),
        (3, "take off Calder 6"),
    ]
