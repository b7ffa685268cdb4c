"""What words of the person do at once, and what is still to be done of them."""

from __future__ import annotations

from typing import Any

import pytest

from tests.engine.small import FakeCamera, Telling, effect, small_run
from tests.plan.plans import BASE
from tether.control.commands import Verb
from tether.engine.in_hand import InHand, OpenFrame
from tether.engine.run_state import Run
from tether.engine.steering import DoneTask, Steering
from tether.errors import LostError

TEXT = BASE + '[rungs]\ntimes = ["1/125"]\n'
HELD = OpenFrame(frame=1, held=True, command_s=6.0)
TIMED = OpenFrame(frame=1, held=False, command_s=6.0)


def a_run(**fields: Any) -> tuple[Run, Telling, FakeCamera]:
    return small_run(TEXT, **fields)


# Words


@pytest.mark.parametrize(
    ("verb", "in_hand", "said"),
    [
        ("stop after this frame", None, "stops"),
        ("stop after this frame", HELD, "ends the run once this frame is finished"),
        ("stop now and keep", TIMED, "ends the run once this frame is finished"),
        ("stop now and keep", HELD, "closes now, then ends the run"),
        ("drop everything", HELD, "closes now, then ends the run"),
        ("longer", None, "no bulb exposure is open, so nothing changed"),
        ("shorter", TIMED, "no bulb exposure is open, so nothing changed"),
        # A third of a stop: 6 s times 1.2599 and by it.
        ("longer", HELD, "closes 1.6 s later, if there is still time"),
        ("shorter", HELD, "closes 1.2 s sooner, if there is still time"),
        ("close and keep", HELD, "closes now, the frame is kept"),
        ("next", HELD, "on to the next rung"),
        ("brighter", None, "+0.33 stop from the next frame on"),
        ("pause", None, "paused"),
        ("pause", TIMED, "pauses after this frame"),
        ("go on", None, "continues"),
        ("skip", None, "leaves out what is left of this rung"),
        ("not in the bag", None, "no filter is asked for now, so nothing changed"),
        ("again", None, "one more frame of this rung"),
        ("answer ahead", None, "the next task counts as done"),
        ("answer", None, "nothing is asked of you now"),
        ("I changed something", None, "the light is read anew; what is known of the filters stays"),
    ],
)
def test_what_a_word_does_is_said(verb: Verb, in_hand: OpenFrame | None, said: str) -> None:
    run, telling, camera = a_run(hand=InHand(open=in_hand))
    assert effect(run, telling, verb) == said
    closes = "closes now" in said or (verb == "next" and in_hand is HELD)
    assert bool(camera.told("close_now")) == closes


@pytest.mark.parametrize(
    ("in_hand", "said"),
    [
        (None, "“fit Calder 6” will be asked again in a moment, after a test exposure where one is due"),
        (TIMED, "“fit Calder 6” will be asked again after this frame"),
        (HELD, "closes now, the frame is kept and does not count; “fit Calder 6” will be asked again then"),
    ],
)
def test_when_a_task_that_is_taken_back_is_asked_again_is_said_until_it_is(
    in_hand: OpenFrame | None, said: str
) -> None:
    task = DoneTask(what="fit Calder 6", at_s=1.0, first_frame=3)
    run, telling, _ = a_run(hand=InHand(open=in_hand), steering=Steering(done_task=task))
    assert effect(run, telling, "take back") == said
    assert run.steering.pending("ready") == ["“fit Calder 6” is asked again"]
    run.steering.take_back()
    assert run.steering.pending("ready") == ["“fit Calder 6” is asked again"], "until it is, whatever comes before"
    run.steering.ask()
    assert run.steering.pending("ready") == []


@pytest.mark.parametrize(("verb", "by_s"), [("longer", 6 * (2 ** (1 / 3) - 1)), ("shorter", 6 * (2 ** (-1 / 3) - 1))])
def test_longer_and_shorter_are_a_third_of_a_stop_of_what_is_open(verb: Verb, by_s: float) -> None:
    run, telling, camera = a_run(hand=InHand(open=HELD))
    effect(run, telling, verb)
    assert camera.told("change") == [pytest.approx(by_s)]


def test_a_camera_that_is_lost_while_a_word_is_said_is_told_of_elsewhere() -> None:
    def gone(*_: object) -> None:
        raise LostError("gone")

    run, telling, _ = a_run(hand=InHand(open=HELD), camera=FakeCamera({"close_now": gone, "change": gone}))
    assert effect(run, telling, "close and keep") == "closes now, the frame is kept"
    assert effect(run, telling, "longer").startswith("closes 1.6 s later")


def test_brighter_and_darker_undo_each_other_without_a_rest() -> None:
    run, telling, _ = a_run()
    for verb in ("brighter", "brighter", "darker"):
        effect(run, telling, verb)
    assert run.steering.brighter_stops == pytest.approx(1 / 3)
    assert effect(run, telling, "darker") == "back to the plan from the next frame on"
    assert run.steering.brighter_stops == 0.0
    assert effect(run, telling, "darker") == "-0.33 stop from the next frame on"


def test_an_answer_counts_only_where_something_is_asked() -> None:
    run, telling, _ = a_run(steering=Steering(asked=True))
    assert effect(run, telling, "answer") == "answered"
    assert run.steering.answered


# What is still to be done


@pytest.mark.parametrize(
    ("steering", "said"),
    [
        (Steering(), []),
        (Steering(stop="stop now and keep"), ["stop now and keep"]),
        (Steering(paused=True), ["pauses after this frame"]),
        (Steering(skip=True, again=2), ["leaves this rung", "2 more of this rung"]),
        (Steering(brighter_stops=-1 / 3), ["-0.33 stop as you asked"]),
        (Steering(ahead=1), ["next task counts as done"]),
        (Steering(ahead=2), ["2 tasks count as done"]),
    ],
)
def test_what_was_said_and_is_still_to_be_done_is_told_in_words(steering: Steering, said: list[str]) -> None:
    assert steering.pending("ready") == said


def test_a_pause_that_has_come_is_not_still_to_be_done() -> None:
    assert Steering(paused=True).pending("paused") == []


def test_a_stop_ends_a_pause() -> None:
    assert Steering(paused=True).resting()
    assert not Steering(paused=True, stop="drop everything").resting()


def test_skip_is_used_up_by_what_it_ends() -> None:
    steering = Steering(skip=True)
    assert [steering.skipped(), steering.skipped()] == [True, False]


def test_an_answer_given_beforehand_is_used_up_by_one_task() -> None:
    steering = Steering(ahead=1)
    assert [steering.answered_ahead(), steering.answered_ahead()] == [True, False]


def test_a_rung_that_begins_forgets_what_was_said_to_the_one_before_but_not_what_holds_for_all() -> None:
    steering = Steering(skip=True, hurry=True, again=2, paused=True, brighter_stops=1 / 3, ahead=1)
    steering.begin_rung()
    assert steering == Steering(paused=True, brighter_stops=1 / 3, ahead=1)


def test_a_task_is_taken_back_once_and_only_while_its_rung_is_in_hand() -> None:
    task = DoneTask(what="fit Calder 10", at_s=1.0, first_frame=3)
    steering = Steering()
    steering.task_done(task)
    assert [steering.take_back(), steering.take_back()] == [task, None]
    steering.task_done(task)
    steering.end_rung()
    assert steering == Steering()
