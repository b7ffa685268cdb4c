"""What a run works with: its states, what words of the person do at once, and what is told of them."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from tests.engine.small import NOW, FakeCamera, Telling, say_at, small_run
from tests.plan.plans import BASE
from tether.body.protocol import Remark
from tether.clock import to_ns
from tether.control.commands import Command, Verb
from tether.engine.run_state import MOVES, OpenFrame, Run, Steering, Stopped, StuckSettings
from tether.errors import LostError
from tether.journal.records import Mentioned, Noted, StateChanged, Steered, WishesChanged

TEXT = BASE + '[rungs]\ntimes = ["1/125"]\n'
HELD = OpenFrame(frame=1, held=True, command_s=6.0)
TIMED = OpenFrame(frame=1, held=False, command_s=6.0)


def a_run(**fields: Any) -> tuple[Run, Telling, FakeCamera]:
    return small_run(TEXT, **fields)


def effect(run: Run, telling: Telling, verb: Verb) -> str:
    """Say a word and return what it did."""
    run.box.put(Command(verb=verb))
    run.catch_up()
    return telling.of(Steered)[-1].effect


# States


def test_a_state_changes_as_the_table_allows_and_is_told_once() -> None:
    run, telling, _ = a_run()
    run.go("setting")
    run.go("setting")
    run.go("ready")
    assert [(one.before, one.state) for one in telling.of(StateChanged)] == [("ready", "setting"), ("setting", "ready")]


def test_a_move_that_the_table_does_not_allow_is_a_mistake() -> None:
    run, _, _ = a_run(state="paused")
    with pytest.raises(RuntimeError, match="cannot go from paused to open"):
        run.go("open")


def test_from_every_state_there_is_a_way_to_the_end() -> None:
    assert all("ended" in after for state, after in MOVES.items() if state != "ended")
    assert MOVES["ended"] == ()


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
        ("again", None, "one more frame of this rung"),
        ("answer ahead", None, "the next task counts as done"),
        ("answer", None, "nothing is asked of you now"),
        ("I changed something", None, "the light is read anew; what is known of the filters stays"),
    ],
)
def test_what_a_word_does_is_said(verb: Verb, in_hand: OpenFrame | None, said: str) -> None:
    run, telling, camera = a_run(open=in_hand)
    assert effect(run, telling, verb) == said
    closes = "closes now" in said or (verb == "next" and in_hand is HELD)
    assert bool(camera.told("close_now")) == closes


@pytest.mark.parametrize(("verb", "by_s"), [("longer", 6 * (2 ** (1 / 3) - 1)), ("shorter", 6 * (2 ** (-1 / 3) - 1))])
def test_longer_and_shorter_are_a_third_of_a_stop_of_what_is_open(verb: Verb, by_s: float) -> None:
    run, telling, camera = a_run(open=HELD)
    effect(run, telling, verb)
    assert camera.told("change") == [pytest.approx(by_s)]


def test_a_camera_that_is_lost_while_a_word_is_said_is_told_of_elsewhere() -> None:
    def gone(*_: object) -> None:
        raise LostError("gone")

    run, telling, _ = a_run(open=HELD, camera=FakeCamera({"close_now": gone, "change": gone}))
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


def test_what_is_still_to_be_done_is_told_when_it_changes_and_only_then() -> None:
    run, telling, _ = a_run()
    for verb in ("again", "I changed something", "again"):
        effect(run, telling, verb)
    run.steering.again = 0
    run.go("setting")
    assert [one.pending for one in telling.of(WishesChanged)] == [
        ["1 more of this rung"],
        ["2 more of this rung"],
        [],
    ]


def test_a_stop_ends_a_pause() -> None:
    assert Steering(paused=True).resting()
    assert not Steering(paused=True, stop="drop everything").resting()


# Waiting


def test_time_passes_to_its_end_unless_next_or_a_stop_is_said() -> None:
    run, _, _ = a_run()
    run.pass_time(10.0)
    assert run.now_s == 10.0
    say_at(run, 12.0, "again")
    say_at(run, 15.0, "next")
    run.pass_time(10.0)
    assert run.now_s == 15.0


def test_a_stop_cuts_time_short_and_is_carried_on() -> None:
    run, _, _ = a_run()
    say_at(run, 3.0, "stop after this frame")
    with pytest.raises(Stopped) as stopped:
        run.pass_time(10.0)
    assert (stopped.value.verb, run.now_s) == ("stop after this frame", 3.0)


def test_a_pause_lasts_until_the_person_goes_on() -> None:
    run, telling, _ = a_run()
    say_at(run, 0.0, "pause")
    say_at(run, 7.0, "again")
    say_at(run, 60.0, "go on")
    run.wait_while_paused()
    assert run.now_s == 60.0
    assert [one.state for one in telling.of(StateChanged)] == ["paused", "ready"]
    run.wait_while_paused()
    assert run.now_s == 60.0


# What the camera remarks, and moments


@pytest.mark.parametrize(
    ("text", "kept", "said", "noted", "mentioned"),
    [
        ("It is warm.", "", ["It is warm."], [], []),
        ("A Body A.", "A Body A, serial 7.", [], ["A Body A, serial 7."], ["A Body A."]),
        ("", "Serial 7.", [], ["Serial 7."], []),
    ],
)
def test_a_serial_number_is_kept_and_not_shown(
    text: str, kept: str, said: list[str], noted: list[str], mentioned: list[str]
) -> None:
    run, telling, _ = a_run()
    run.box.put(Remark(text=text, kept=kept))
    run.catch_up()
    assert telling.said == said
    assert [one.text for one in telling.of(Noted)] == noted
    assert [one.text for one in telling.of(Mentioned)] == mentioned


def test_a_moment_of_the_wall_clock_has_its_place_on_the_runs_clock_also_before_it_began() -> None:
    run, _, _ = a_run()
    run.clock.wait_until(to_ns(50.0))
    assert run.at_s(NOW + timedelta(seconds=20)) == pytest.approx(20.0)
    assert run.at_s(NOW - timedelta(seconds=100)) == pytest.approx(-100.0)


def test_settings_that_the_body_keeps_are_forgotten_but_not_what_was_asked() -> None:
    kept = StuckSettings(iso=200.0, asked={"time"})
    assert kept.anything()
    kept.forget()
    assert (kept.anything(), kept.asked) == (False, {"time"})
    assert StuckSettings(aperture=8.0).anything()
