"""One exposure: what is told before and after, what is heard meanwhile, and how it is said to have ended."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from tests.engine.small import FakeCamera, Telling, opened, planned, say_at, small_run
from tests.plan.plans import TEN
from tether.body.protocol import Changed, Ended, Failed, Opened, Order
from tether.checks.host_clocks import ClockReading
from tether.clock import SteppedClock, to_ns
from tether.control.commands import Item
from tether.engine.exposure import Exposed, expose, held_otherwise
from tether.engine.run_state import Run
from tether.errors import BusyError, LostError, TetherError
from tether.journal.records import CloseMoved, ExposeIntent, ExposeOutcome, FrameOpened
from tether.shot.shot import Shot, shot_of_rung

TEXT = '[base]\ntime = "1/8"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["1/8", "2m"]\nframes = 1\n' + TEN
OPENED = Opened(frame=1, at_ns=to_ns(0.1), closes_at_ns=to_ns(128.1))


def a_run(*events: tuple[float, Item], delays_s: tuple[float, float] | None = None) -> tuple[Run, Telling, FakeCamera]:
    """Return a run whose camera says so at these moments [s], once it is told to begin."""
    camera = FakeCamera()
    open_s, close_s = delays_s or (None, None)
    abilities = replace(planned(TEXT)[1], open_delay_s=open_s, close_delay_s=close_s)
    run, telling, _ = small_run(TEXT, camera, abilities=abilities)
    clock = run.clock
    assert isinstance(clock, SteppedClock)

    def begin(_: Order) -> None:
        for at_s, event in events:
            clock.call_at(to_ns(at_s), lambda event=event: run.box.put(event))  # type: ignore[misc]

    camera.does["begin"] = begin
    return run, telling, camera


def shot(run: Run, number: int = 2) -> Shot:
    """Return the frame of two minutes (rung 2), or of 1/8 s."""
    rung = run.ladder.rungs[number - 1]
    return shot_of_rung(rung, rung.choice)


def done(run: Run, number: int = 2) -> Exposed:
    return expose(run, shot(run, number), shot(run, number))


def ended(at_s: float = 128.1, **changes: Any) -> tuple[float, Ended]:
    usual = {"asked_s": 128.0, "open_called_ns": to_ns(0.1), "open_returned_ns": to_ns(0.1)}
    closes = {"close_called_ns": to_ns(at_s), "close_returned_ns": to_ns(at_s)}
    return at_s, Ended(frame=1, opening=opened(**(usual | closes | changes)))


def test_it_is_told_before_while_it_is_open_and_after() -> None:
    run, telling, camera = a_run((0.1, OPENED), ended())
    exposed = done(run)
    assert [type(one) for one in telling.records if isinstance(one, ExposeIntent | FrameOpened | ExposeOutcome)] == [
        ExposeIntent,
        FrameOpened,
        ExposeOutcome,
    ]
    assert (exposed.outcome, exposed.is_expected, exposed.problem) == ("made", True, None)
    assert (exposed.made.wanted.open_s, exposed.made.wanted.commands_s) == pytest.approx((128.0, 128.0))
    assert (run.hand.open, run.hand.state, run.hand.next_frame) == (None, "ready", 2)
    (order,) = camera.told("begin")
    assert (order.frame, order.way, order.command_s) == (1, "held", pytest.approx(128.0))


def test_the_bodys_delays_lengthen_the_command_and_not_what_is_gathered() -> None:
    """Opening takes 0.10 s and closing 0.03 s: the shutter is told to close 0.07 s later."""
    run, _, camera = a_run(ended(128.17, asked_s=128.07), delays_s=(0.10, 0.03))
    exposed = done(run)
    assert camera.told("begin")[0].command_s == pytest.approx(128.07)
    assert (exposed.made.wanted.open_s, exposed.made.wanted.commands_s) == pytest.approx((128.0, 128.0))


def test_of_a_timed_one_our_commands_tell_nothing() -> None:
    run, _, _ = a_run(ended(0.4, way="timed", asked_s=0.125))
    exposed = done(run, 1)
    assert (exposed.outcome, exposed.made.wanted.commands_s, exposed.made.wanted.open_s) == ("made", None, 0.125)


def test_a_person_who_closes_it_makes_it_as_long_as_it_was() -> None:
    run, _, _ = a_run((0.1, OPENED), ended(60.1, closed_by="person"))
    exposed = done(run)
    assert exposed.outcome == "closed early"
    assert exposed.made.wanted.open_s == pytest.approx(60.0)
    assert exposed.problem is None


@pytest.mark.parametrize(("held_s", "is_said"), [(60.0, True), (125.0, False)])
def test_a_frame_that_a_stop_cuts_short_says_that_it_is_kept_and_made_again(held_s: float, is_said: bool) -> None:
    """Of 128 s, 125 s is as good as whole: resuming makes no other (`journal.history`)."""
    run, telling, _ = a_run((0.1, OPENED), ended(0.1 + held_s, closed_by="person"))
    run.steering.stop = "stop now and keep"
    exposed = done(run)
    said = "Closed early to end the run: this frame is kept and does not count; resumed, the ladder makes it again."
    assert (exposed.outcome, exposed.problem) == ("closed early", said if is_said else None)
    assert telling.of(ExposeOutcome)[0].note == exposed.problem


def test_what_was_changed_while_it_was_open_is_what_is_wanted() -> None:
    run, _, _ = a_run((0.1, OPENED), ended(160.1, asked_s=160.0))
    exposed = done(run)
    assert exposed.outcome == "made"
    assert exposed.made.wanted.open_s == pytest.approx(160.0)
    assert exposed.problem == "While it was open it was asked to be 160.0 s."


def test_a_hold_that_was_another_differs_and_says_so() -> None:
    """100 for 128 s is a third of a stop; a sixth is allowed."""
    for held_s, outcome in ((100.0, "made, differs"), (120.0, "made")):
        run, _, _ = a_run((0.1, OPENED), ended(0.1 + held_s))
        assert done(run).outcome == outcome


def test_a_camera_that_says_no_word_is_lost_a_while_after_it_should_have_been_over() -> None:
    run, telling, _ = a_run((0.1, OPENED))
    exposed = done(run)
    assert (exposed.outcome, exposed.is_expected, run.now_s) == ("lost", False, 128.0 + 60.0)
    assert exposed.problem == "The camera has not said a word 60 s after the exposure should have been over."
    assert telling.of(ExposeOutcome)[0].outcome == "lost"


def test_a_close_that_was_moved_is_waited_for_and_told() -> None:
    run, telling, _ = a_run(
        (0.1, OPENED), (1.0, Changed(frame=1, closes_at_ns=to_ns(300.1))), ended(300.1, asked_s=300.0)
    )
    seen: list[float] = []

    def when(record: object) -> None:
        if isinstance(record, CloseMoved):
            assert run.hand.open is not None
            seen.append(run.hand.open.command_s)

    telling.when = when
    assert done(run).outcome == "made"
    assert seen == [pytest.approx(300.0)]


def test_word_of_another_frame_is_not_this_ones() -> None:
    run, _, _ = a_run((0.1, Ended(frame=7, opening=opened(frame=7))), (0.2, OPENED), ended())
    assert done(run).made.wanted.commands_s == pytest.approx(128.0)


@pytest.mark.parametrize(
    ("error", "outcome", "busy"), [(BusyError("busy"), "failed", True), (LostError("gone"), "lost", False)]
)
def test_what_keeps_it_from_being_begun_is_how_it_ended(error: TetherError, outcome: str, busy: bool) -> None:
    def refuses(_: Order) -> None:
        raise error

    run, telling, camera = a_run()
    camera.does["begin"] = refuses
    exposed = done(run)
    assert (exposed.outcome, exposed.busy, exposed.is_expected, exposed.problem) == (outcome, busy, False, str(error))
    assert len(telling.of(ExposeIntent)) == len(telling.of(ExposeOutcome)) == 1


@pytest.mark.parametrize(
    ("kind", "opening", "outcome", "busy", "lacks"),
    [
        ("supply", None, "failed", False, True),
        ("busy", None, "failed", True, False),
        ("busy", opened(), "failed", False, False),  # it was opened, so it is not merely busy
        ("lost", opened(), "lost", False, False),
    ],
)
def test_a_failed_one_says_whether_it_was_busy_or_lacked_something(
    kind: str, opening: Any, outcome: str, busy: bool, lacks: bool
) -> None:
    run, _, _ = a_run((1.0, Failed(frame=1, kind=kind, sentences=("One.", "Two."), opening=opening)))
    exposed = done(run)
    assert (exposed.outcome, exposed.busy, exposed.lacks) == (outcome, busy, lacks)
    assert exposed.problem == "One. Two."


def test_a_person_who_drops_everything_leaves_the_frame_on_the_card() -> None:
    run, _, _ = a_run((0.1, OPENED), ended(20.0, closed_by="person"))
    say_at(run, 19.0, "drop everything")
    exposed = done(run)
    assert (exposed.outcome, exposed.is_expected) == ("dropped", False)
    assert exposed.problem == "The person dropped everything; the frame stays on the card."


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {"closed_by": "camera process", "close_called_ns": to_ns(12.0)},
            (
                "Between opening and closing lay 2 s, not 4 s: "
                "the camera process was told to end and closed the shutter first."
            ),
        ),
        (
            {"open_returned_ns": to_ns(12.5), "close_called_ns": to_ns(16.0)},
            (
                "Between opening and closing lay 6.00 s, not 4 s: the camera took 2.5 s to answer the command that "
                "opens. Its Exif tells how long it was open."
            ),
        ),
    ],
)
def test_why_it_was_held_otherwise_is_said_as_far_as_it_shows(changes: dict[str, Any], said: str) -> None:
    assert held_otherwise(opened(**changes)) == said


def clocks(*slept_s: float) -> Callable[[], ClockReading]:
    """Return a machine whose boot-time clock is ahead by so much at each look [s]."""
    looks = [ClockReading(monotonic_ns=0, boottime_ns=to_ns(one), wall_ns=to_ns(one)) for one in slept_s]
    return lambda: looks.pop(0)


def test_a_machine_that_slept_while_it_was_open_marks_the_frame() -> None:
    for slept_s, said in ((0.0, 0), (30.0, 1)):
        run, telling, _ = a_run((0.1, OPENED), ended())
        done(replace(run, look=clocks(0.0, slept_s)))
        assert len(telling.said) == said
        assert all(one.startswith("The machine slept for 30 s while this frame was open") for one in telling.said)


def test_what_its_file_is_held_against_knows_when_it_was_opened_and_how_late_the_body_answered() -> None:
    run, _, _ = a_run((0.1, OPENED), ended(open_returned_ns=to_ns(0.6)))
    made = done(run).made
    assert made.opened_s == pytest.approx(0.1)
    assert made.answered_s == pytest.approx(0.5)
    assert (made.filters, made.filter_stops, made.wanted.open_s) == (("Calder 10",), 10.0, 128.0)
