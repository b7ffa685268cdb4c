"""The checks before a run: what a ladder needs against what a body offers, what stops, and what it is told like."""

from __future__ import annotations

import queue
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.checks.rig import found, ready_of
from tests.engine.rig import BASE, work, world
from tests.plan.plans import HEAD
from tether.body.bodyfile import load_body_file
from tether.body.protocol import NOT_TOLD, Finding
from tether.checks.checks import in_order, names_of, parse_despite, stops_of, weighed
from tether.checks.ladder import DARK_FRAME
from tether.clock import SteppedClock
from tether.control.commands import Command, Item
from tether.errors import CameraError, PlanError
from tether.journal.telling import read_outing
from tether.plan.file import plan_from_text
from tether.service.rehearsal import Rehearsal


def test_a_body_that_stands_as_it_should_stops_nothing(tmp_path: Path) -> None:
    all_found = found(ready_of(), tmp_path)
    assert {one.verdict for one in all_found.values()} == {"ok", "note"}
    assert all_found["tried"].verdict == "note"
    assert "not tried on hardware" in all_found["tried"].sentence
    assert all_found["holding"].sentence == "Rung 5, up to 2:08 min, by its bulb."


def test_what_the_camera_does_not_tell_is_put_together_for_the_person(tmp_path: Path) -> None:
    looked = tuple(
        Finding(what=what, verdict="note", sentence=f"{NOT_TOLD} {remedy}")
        for what, remedy in (("focus", "Set it to MF."), (DARK_FRAME, "Switch it off."))
    )
    all_found = found(ready_of(), tmp_path, looked=looked)
    assert all_found["not told"].sentence.endswith(
        f"of focus, {DARK_FRAME}. Check it yourself: Set it to MF. Switch it off."
    )
    assert "focus" not in all_found


# Going on despite a stop

NAMES = names_of(load_body_file("simulated"))
STOPPED = (Finding(what="battery", verdict="stop", sentence="3%: change it."),)


def test_what_is_gone_on_despite_is_named_with_a_reason() -> None:
    assert parse_despite(["Battery = a second one is in the grip"], NAMES) == {"battery": "a second one is in the grip"}
    with pytest.raises(PlanError, match="there are: camera, tried"):
        parse_despite(["batery=x"], NAMES)
    with pytest.raises(PlanError, match='--despite "battery=your reason"'):
        parse_despite(["battery= "], NAMES)


def test_a_stop_that_is_left_is_an_error_that_says_how_to_go_on() -> None:
    error = stops_of(weighed(STOPPED, {}, begun=False), "tether run here")
    assert isinstance(error, CameraError)
    assert "battery: 3%: change it." in error.sentences
    assert error.sentences[-1].endswith('tether run here --despite "battery=REASON"')


def test_a_reason_makes_a_stop_a_note_and_so_does_a_ladder_that_was_begun() -> None:
    (reasoned,) = weighed(STOPPED, {"battery": "a second one is in the grip."}, begun=False)
    assert (reasoned.verdict, reasoned.sentence) == (
        "note",
        "3%: change it. Overridden: a second one is in the grip.",
    )
    (begun,) = weighed(STOPPED, {}, begun=True)
    assert begun.verdict == "note"
    assert stops_of((reasoned, begun), "x") is None


# In a run

SHORT = BASE + '[rungs]\ntimes = ["1/125"]\nframes = 1\n'


def test_a_run_writes_down_all_it_looked_at_and_says_that_it_is_simulated(tmp_path: Path) -> None:
    worked = work(tmp_path, SHORT)
    checks = {check.what: check for check in worked.told.runs[0].checks}
    assert {"camera", "times", "disk", "battery"} <= set(checks)
    assert "SIMULATED" in checks["camera"].text
    assert not any(note.about == "check" for note in (*worked.told.notes, *worked.ladder.notes))


def test_what_is_in_order_is_named_so_that_it_says_what_was_looked_at() -> None:
    assert in_order(("camera", "tried", "finder", "variables", "real time", "holding")) == (
        "Checked and fine: camera, whether the body was tried, viewfinder, surroundings of the camera library,"
        " exact open times, bulb."
    )


def test_a_stop_ends_the_run_before_anything_is_exposed(tmp_path: Path) -> None:
    with pytest.raises(CameraError, match="battery: 3%: change it"):
        work(tmp_path, SHORT, truth=world(battery=0.03), outing=tmp_path / "here")
    told = read_outing(tmp_path / "here")
    assert [check.what for check in told.runs[0].checks if check.verdict == "stop"] == ["battery"]
    assert told.runs[0].end == "ended"
    assert not told.ladders


def test_despite_a_stop_it_goes_on_and_the_reason_is_in_the_log(tmp_path: Path) -> None:
    reason = {"battery": "another is in my hand"}
    truth, plan = world(battery=0.03), plan_from_text(HEAD + SHORT)
    done = Rehearsal.of(plan, root=tmp_path, world=truth, despite=reason).run()
    assert done.outcome == "done"
    (check,) = [check for check in read_outing(done.folder).runs[0].checks if check.what == "battery"]
    assert check.verdict == "note"
    assert check.text.endswith("Overridden: another is in my hand.")


def test_a_ladder_that_was_begun_is_gone_on_with_all_the_same(tmp_path: Path) -> None:
    plan = plan_from_text(HEAD + SHORT)
    first = Rehearsal.of(
        plan, root=tmp_path, outing=tmp_path / "here", world=world(battery=0.03), despite={"battery": "it will do"}
    )
    box: queue.SimpleQueue[Item] = queue.SimpleQueue()
    box.put(Command(verb="drop everything"))
    assert first.run(box=box).outcome == "dropped"
    again = replace(first, ladder=1, despite={}, clock=SteppedClock(start_utc=datetime.now(UTC)))
    assert again.run().outcome == "done"
    (check,) = [one for one in read_outing(tmp_path / "here").runs[1].checks if one.what == "battery"]
    assert (check.verdict, "resumed" in check.text) == ("note", True)
