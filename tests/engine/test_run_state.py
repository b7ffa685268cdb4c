"""What a run works with: its states, what words of the person do at once, and what is told of them."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from tests.engine.small import NOW, FakeCamera, Telling, effect, say_at, small_run
from tests.plan.plans import BASE
from tether.body.protocol import Remark
from tether.clock import to_ns
from tether.engine.in_hand import InHand
from tether.engine.run_state import Run
from tether.engine.steering import Stopped
from tether.journal.records import Mentioned, Noted, StateChanged, WishesChanged

TEXT = BASE + '[rungs]\ntimes = ["1/125"]\n'


def a_run(**fields: Any) -> tuple[Run, Telling, FakeCamera]:
    return small_run(TEXT, **fields)


# States


def test_a_state_changes_as_the_table_allows_and_is_told_once() -> None:
    run, telling, _ = a_run()
    run.go("setting")
    run.go("setting")
    run.go("ready")
    assert [(one.before, one.state) for one in telling.of(StateChanged)] == [("ready", "setting"), ("setting", "ready")]


def test_a_move_that_the_table_does_not_allow_is_a_mistake() -> None:
    run, _, _ = a_run(hand=InHand(state="paused"))
    with pytest.raises(RuntimeError, match="cannot go from paused to open"):
        run.go("open")


# Waiting


def test_time_passes_to_its_end_unless_next_or_a_stop_is_said() -> None:
    run, _, _ = a_run()
    run.pass_time(10.0)
    assert run.now_s == 10.0
    say_at(run, 12.0, "again")
    say_at(run, 15.0, "next")
    run.pass_time(10.0)
    assert run.now_s == 15.0


@pytest.mark.parametrize(("water", "told_at_s"), [("coast", [600.0, 1200.0, 1800.0]), ("river", [])])
def test_by_the_sea_every_ten_minutes_of_a_wait_say_to_look_at_it(water: str, told_at_s: list[float]) -> None:
    run, telling, _ = small_run(f'[place]\nwater = "{water}"\n' + TEXT)
    said_at: list[tuple[float, str]] = []
    telling.when = lambda record: said_at.append((run.now_s, record.text)) if isinstance(record, Mentioned) else None
    say_at(run, 700.0, "brighter")
    run.pass_time(2000.0)
    assert said_at == [(at_s, "Look at the sea first, and step back from it.") for at_s in told_at_s]
    assert run.now_s == 2000.0


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


# What is told


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
