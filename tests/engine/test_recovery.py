"""When the camera says no: how long it is tried again, when the person is asked, and when it is given up."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest

from tests.engine.small import FakeCamera, say_at, small_run
from tests.plan.plans import BASE
from tether.engine.recovery import BUSY_WAITS_S, stage_filters, with_care
from tether.engine.run_state import Run
from tether.engine.steering import Stopped
from tether.errors import BusyError, CameraError, LostError, SupplyError, TetherError
from tether.exposure.filters import Filter
from tether.journal.records import Turn

TEXT = BASE + '[rungs]\ntimes = ["1/125"]\n'
#: All waits for a busy body: half a second to half a minute.
BUSY_FOR_S = 0.5 + 1 + 2 + 4 + 8 + 15 + 30


def failing(*errors: TetherError | None) -> Callable[[], str]:
    """Return an act that fails so, one after the other (the last for ever), and is done where there is no error."""

    def each() -> Iterator[TetherError | None]:
        yield from errors
        while True:
            yield errors[-1]

    next_error = each()

    def act() -> str:
        error = next(next_error)
        if error is not None:
            raise error
        return "done"

    return act


def care(run: Run, act: Callable[[], str], busy_for_s: float = 0.0) -> str:
    return with_care(run, act, rung=1, busy_for_s=busy_for_s)


def test_what_succeeds_takes_no_time() -> None:
    run, telling, _ = small_run(TEXT)
    assert care(run, failing(None)) == "done"
    assert (run.now_s, telling.records) == (0.0, [])


def test_a_busy_body_is_waited_for_longer_and_longer_without_a_word() -> None:
    run, telling, _ = small_run(TEXT)
    busy = BusyError("busy")
    assert care(run, failing(busy, busy, busy, None)) == "done"
    assert (run.now_s, telling.said) == (0.5 + 1 + 2, [])


def test_a_body_that_stays_busy_is_told_to_the_person_after_all_waits() -> None:
    run, telling, _ = small_run(TEXT)
    say_at(run, BUSY_FOR_S + 5, "skip")
    with pytest.raises(BusyError):
        care(run, failing(BusyError("It is busy.")))
    assert sum(BUSY_WAITS_S) == BUSY_FOR_S
    assert telling.said == ["It is busy."]
    assert [turn.state for turn in telling.of(Turn)] == ["asked", "not done"]


def test_its_own_dark_frame_is_waited_for_besides() -> None:
    run, _, _ = small_run(TEXT)
    busy = BusyError("busy")
    assert care(run, failing(*[busy] * 8, None), busy_for_s=240.0) == "done"
    assert run.now_s == BUSY_FOR_S + 240


def test_what_is_refused_is_tried_once_more_and_then_the_callers() -> None:
    run, telling, _ = small_run(TEXT)
    refused = CameraError("It refuses.")
    assert care(run, failing(refused, None)) == "done"
    assert (run.now_s, telling.said) == (1.0, ["It refuses. It is tried once more."])
    with pytest.raises(CameraError):
        care(run, failing(refused))
    assert run.now_s == 2.0


def test_a_lost_camera_is_reached_again_and_then_it_is_gone_on() -> None:
    run, telling, camera = small_run(TEXT, FakeCamera({"reach_again": failing(LostError("no"), LostError("no"), None)}))
    assert care(run, failing(LostError("The cable is out."), None)) == "done"
    assert (len(camera.told("reach_again")), run.now_s, run.hand.state) == (3, 1.0 + 2.0 + 4.0, "ready")
    assert telling.said == [
        "The cable is out. Trying to reach it again.",
        "The camera answers again; its shutter is shut.",
    ]


def test_a_camera_that_does_not_come_back_is_asked_about_twice_and_then_given_up() -> None:
    lost = LostError("It is gone.")
    run, telling, _ = small_run(TEXT, FakeCamera({"reach_again": failing(lost)}))
    for at_s in (70.0, 150.0):  # 60 s of waits each: 1, 2, 4, 8, 15 and 30
        say_at(run, at_s, "answer")
    with pytest.raises(LostError):
        care(run, failing(lost))
    assert [turn.state for turn in telling.of(Turn)] == ["asked", "answered"] * 2
    assert telling.said.count("Nothing has changed since you were asked.") == 2


def test_what_is_missing_is_asked_for_at_once_and_a_new_trouble_is_no_old_one() -> None:
    run, telling, _ = small_run(TEXT)
    for at_s in (10.0, 20.0):
        say_at(run, at_s, "answer")
    act = failing(SupplyError("There is no card."), SupplyError("The battery is empty."), None)
    assert care(run, act) == "done"
    assert telling.said == ["There is no card.", "The battery is empty."]
    assert run.now_s == 20.0


def test_in_a_simulated_world_an_answer_changes_battery_and_where_it_is_that_the_card() -> None:
    run, _, camera = small_run(TEXT, answer_for_me=True)
    care(run, failing(SupplyError("The card is full."), SupplyError("The battery is empty."), None))
    assert [(one.new_battery, one.new_card) for one in camera.told("stage")] == [(True, True), (True, False)]


def test_a_stop_meanwhile_is_the_persons() -> None:
    run, _, _ = small_run(TEXT)
    say_at(run, 2.0, "drop everything")
    with pytest.raises(Stopped):
        care(run, failing(BusyError("busy")))
    assert run.now_s == 2.0


def test_filters_that_are_always_on_are_on_the_simulated_lens_and_a_graduated_one_takes_nothing() -> None:
    always = '[[filter]]\nname = "Polariser"\nstops = 1.6\nkind = "always on"\n'
    run, _, camera = small_run(TEXT + always)
    stage_filters(run, (Filter.of("Ten", stops=10, measured_stops=10.4), Filter.of("Soft", stops=2, kind="graduated")))
    (change,) = camera.told("stage")
    assert [(one.name, one.stops) for one in change.fitted] == [("Polariser", 1.6), ("Ten", 10.0), ("Soft", 0.0)]
