"""Asking the person: how a turn ends, when it is left, and the key for one frame."""

from __future__ import annotations

from typing import Any

import pytest

from tests.engine.small import NOW, Telling, say_at, small_run
from tests.plan.plans import BASE
from tether.control.commands import Verb
from tether.engine.run_state import Run
from tether.engine.steering import DoneTask, Steering, Stopped, TakenBack
from tether.engine.tasks import wait_for_key, your_turn
from tether.journal.readings import RockSaid
from tether.journal.records import KeyTurn, StateChanged, Turn
from tether.light.acting import Acting

TEXT = BASE + '[rungs]\ntimes = ["1/125"]\n'


def asked(telling: Telling) -> list[str]:
    """Return the states in which a turn was told."""
    return [turn.state for turn in telling.of(Turn)]


def turn(run: Run, **more: Any) -> bool:
    return your_turn(run, "fit Calder 6", "it is next", rung=1, **more)


@pytest.mark.parametrize(
    ("said", "state", "done"),
    [("answer", "answered", True), ("answer ahead", "answered", True), ("skip", "not done", False)],
)
def test_a_turn_ends_as_the_person_says(said: Verb, state: str, done: bool) -> None:
    run, telling, _ = small_run(TEXT)
    say_at(run, 30.0, "brighter")
    say_at(run, 40.0, said)
    assert turn(run) == done
    assert asked(telling) == ["asked", state]
    assert (run.now_s, run.hand.state, run.steering.asked, run.steering.ahead) == (40.0, "ready", False, 0)


def test_a_turn_that_was_answered_ahead_is_not_asked_and_the_one_after_it_is() -> None:
    run, telling, _ = small_run(TEXT, steering=Steering(ahead=1))
    assert turn(run)
    assert asked(telling) == ["answered beforehand"]
    assert telling.of(StateChanged) == []
    say_at(run, 5.0, "answer")
    assert turn(run)
    assert asked(telling)[1:] == ["asked", "answered"]


def test_where_nobody_answers_in_time_it_is_left() -> None:
    run, telling, _ = small_run(TEXT)
    say_at(run, 30.0, "brighter")
    assert not turn(run, at_most_s=60.0)
    assert (asked(telling), run.now_s) == (["asked", "nobody answered"], 60.0)


def test_a_rehearsal_answers_when_it_would_have_been_done() -> None:
    run, telling, _ = small_run(TEXT, answer_for_me=True)
    assert turn(run, takes_s=65.0, at_most_s=10.0)
    assert (asked(telling), run.now_s) == (["asked", "answered for me"], 65.0)


def test_a_stop_at_a_turn_leaves_it_undone_and_goes_on_to_the_end() -> None:
    run, telling, _ = small_run(TEXT)
    say_at(run, 5.0, "stop after this frame")
    with pytest.raises(Stopped):
        turn(run)
    assert asked(telling) == ["asked", "not done"]


def test_an_answer_to_the_turn_before_is_none_to_this_one() -> None:
    run, _, _ = small_run(TEXT, steering=Steering(answered=True))
    say_at(run, 5.0, "answer")
    turn(run)
    assert run.now_s == 5.0


def test_the_time_of_a_turn_is_used_and_its_state_shown_again() -> None:
    run, telling, _ = small_run(TEXT)
    say_at(run, 50.0, "answer")

    def fetch() -> None:
        run.go("fetching")
        run.pass_time(20.0)

    assert turn(run, meanwhile=fetch)
    assert [one.state for one in telling.of(StateChanged)] == ["your turn", "fetching", "your turn", "ready"]
    assert run.now_s == 50.0


def test_what_is_asked_for_says_what_why_and_what_is_on_the_lens_afterwards() -> None:
    run, telling, _ = small_run(TEXT)
    say_at(run, 1.0, "answer")
    turn(run, fitted=["Calder 6"])
    (first, last) = telling.of(Turn)
    assert (first.what, first.reason, first.rung, first.fitted) == ("fit Calder 6", "it is next", 1, ["Calder 6"])
    assert (last.what, last.fitted) == (first.what, first.fitted)


def test_at_the_coast_every_task_says_to_look_at_the_sea_first() -> None:
    run, telling, _ = small_run('[place]\nwater = "coast"\n' + TEXT)
    say_at(run, 1.0, "answer")
    turn(run)
    first, _ = telling.of(Turn)
    assert first.reason == "it is next. Look at the sea first, and step back from it"


@pytest.mark.parametrize(
    ("in_frame", "takes_off", "said"), [("true", True, True), ("true", False, False), ("false", True, False)]
)
def test_where_a_filter_comes_off_before_the_sun_that_is_said(in_frame: str, takes_off: bool, said: bool) -> None:
    run, telling, _ = small_run(f"[place]\nsun_in_frame = {in_frame}\n" + TEXT)
    say_at(run, 1.0, "answer")
    turn(run, takes_off=takes_off)
    sun = ". Nothing dims the Sun now: do not look at it through lens or viewfinder"
    assert telling.of(Turn)[0].reason == f"it is next{sun if said else ''}"


def test_where_a_tide_is_typed_the_sea_is_spoken_of_too() -> None:
    run, telling, _ = small_run(TEXT + '[tide]\nhigh = "18:52"\n')
    say_at(run, 1.0, "answer")
    turn(run)
    assert telling.of(Turn)[0].reason.endswith("Look at the sea first, and step back from it")


# The key for one frame


def keys(telling: Telling) -> list[str]:
    return [one.state for one in telling.of(KeyTurn)]


@pytest.mark.parametrize(("said", "taken", "state"), [("answer", True, "answered"), ("skip", False, "left")])
def test_one_frame_is_taken_on_the_key_or_the_rung_is_left(said: Verb, taken: bool, state: str) -> None:
    run, telling, _ = small_run(TEXT)
    say_at(run, 1.0, said)
    used: list[float] = []
    assert wait_for_key(run, 1, 3.0, lambda: used.append(run.now_s)) == taken
    assert (keys(telling), used, run.hand.state) == (["asked", state], [], "ready")


def test_once_the_person_was_quiet_for_a_while_the_time_is_used_once() -> None:
    run, _, _ = small_run(TEXT)
    say_at(run, 2.0, "brighter")
    say_at(run, 30.0, "answer")
    used: list[float] = []
    assert wait_for_key(run, 1, 3.0, lambda: used.append(run.now_s))
    assert used == [3.0]


def test_a_rehearsal_presses_the_key_after_the_time_was_used() -> None:
    run, telling, _ = small_run(TEXT, answer_for_me=True)
    used: list[float] = []
    assert wait_for_key(run, 1, 3.0, lambda: used.append(run.now_s))
    assert (used, keys(telling)) == ([3.0], ["asked", "answered"])


def test_a_task_that_is_taken_back_is_not_waited_for_any_longer_nor_is_the_key() -> None:
    def waits_for_the_key(run: Run) -> bool:
        return wait_for_key(run, 1, 3.0, lambda: None)

    for wait in (turn, waits_for_the_key):
        run, _, _ = small_run(TEXT)
        run.steering.done_task = DoneTask(what="fit Calder 10", at_s=0.0, first_frame=1)
        say_at(run, 5.0, "take back")
        say_at(run, 900.0, "answer")
        with pytest.raises(TakenBack):
            wait(run)
        assert run.now_s == 5.0


def test_a_stop_while_the_key_is_waited_for_takes_no_frame() -> None:
    run, telling, _ = small_run(TEXT)
    say_at(run, 1.0, "drop everything")
    with pytest.raises(Stopped):
        wait_for_key(run, 1, 3.0, lambda: None)
    assert keys(telling) == ["asked", "left"]


# What a question says of itself


@pytest.mark.parametrize(
    ("rung", "given", "said"),
    [
        (1, "", "rung 1 is skipped from here on"),
        (None, "", ""),
        (1, "it stays as it is", "it stays as it is"),
    ],
)
def test_a_turn_says_beforehand_what_comes_of_leaving_it_out(rung: int | None, given: str, said: str) -> None:
    run, telling, _ = small_run(TEXT)
    say_at(run, 1.0, "skip")
    assert not your_turn(run, "fit Calder 6", "it is next", rung=rung, otherwise=given)
    assert telling.of(Turn)[0].otherwise == said


def test_a_turn_says_how_the_light_goes_only_where_frames_have_told_it() -> None:
    """Light that falls by 0.1 stop a minute, in two frames of the base and one four minutes later."""
    run, telling, _ = small_run(TEXT)
    following = run.following
    following.begin(run.plan, (), 0.0, NOW)
    acting = Acting(filters=(), aperture=8.0, iso=100.0)
    say_at(run, 300.0, "answer")
    following.sure = True
    turn(run)
    for at_s, off in ((0.0, 0.0), (10.0, -0.0167), (240.0, -0.4)):
        following.saw(
            acting, at_s, 0.01, RockSaid(brighter_stops={}, uncertainty_stops=0.005, lifted_share=0.0, off_stops=off)
        )
    say_at(run, 310.0, "answer")
    turn(run)
    following.sure = False
    say_at(run, 320.0, "answer")
    turn(run)
    before, told, unsure = (one.light_stops_per_min for one in telling.of(Turn) if one.state == "asked")
    assert before is None
    assert told == pytest.approx(-0.1, abs=0.02)
    assert unsure is None


@pytest.mark.parametrize("waits", ["turn", "key", "pause"])
def test_a_quick_frame_is_taken_wherever_the_person_is_waited_for_and_nothing_is_answered_by_it(waits: str) -> None:
    run, _, _ = small_run(TEXT, steering=Steering(paused=waits == "pause"))
    taken: list[tuple[float, str]] = []
    run.hand.takes_quick = lambda: taken.append((run.now_s, run.hand.state))
    say_at(run, 5.0, "quick frame", "quick frame")
    say_at(run, 9.0, "go on" if waits == "pause" else "answer")
    if waits == "turn":
        assert turn(run)
    elif waits == "key":
        assert wait_for_key(run, 1, 3.0, lambda: None)
    else:
        run.wait_while_paused()
    state = {"turn": "your turn", "key": "waiting for your key", "pause": "paused"}[waits]
    assert taken == [(5.0, state)] * 2
    assert run.now_s == 9.0
