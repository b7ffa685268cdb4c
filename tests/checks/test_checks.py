"""The checks before a run: what a ladder needs against what a body offers, what stops, and what it is told like."""

from __future__ import annotations

import queue
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from tests.engine.rig import BASE, SIX, TEN, work, world
from tests.plan.plans import HEAD
from tether.body.bodyfile import ShutterOption, load_body_file
from tether.body.protocol import NOT_TOLD, Finding, Identity, Offers, Status
from tether.checks.checks import BodySeen, findings, names_of, parse_despite, stops_of, weighed
from tether.checks.ladder import DARK_FRAME, places, shots_of
from tether.clock import SteppedClock
from tether.control.commands import Command, Item
from tether.errors import CameraError, PlanError
from tether.journal.telling import read_outing
from tether.outing.prepare import Prepared, prepare
from tether.plan.file import plan_from_text
from tether.service.rehearsal import Rehearsal
from tether.shot.shot import Shot

RUNGS = '[rungs]\ntimes = ["1/4000", "1/125", "1/8", "1", "2m"]\nframes = 2\norder = "short first"\n'
LADDER = BASE + RUNGS + "[limits]\niso = [100, 6400]\n" + SIX + TEN
REAL = Identity(model="Body A", serial="S1", firmware="1.2", lens="35 mm", simulated=False)


def ready_of(text: str = LADDER, **body: object) -> Prepared:
    """Make a plan ready for a body that is like the simulated one but real, with what is given changed."""
    ready = prepare(plan_from_text(HEAD + text))
    changed = {"simulated": False, "name": "Body A", **body}
    file = load_body_file("simulated").model_copy(update=changed)
    real = replace(ready.abilities, simulated=False)
    return replace(ready, body_file=file, abilities=real, ladder=replace(ready.ladder, simulated=False))


def offers_of(ready: Prepared, **changed: object) -> Offers:
    abilities = ready.abilities
    lists = {name: tuple(mark.label for mark in getattr(abilities, name)) for name in ("times", "apertures", "isos")}
    return Offers(**{**lists, "held_by": "bulb", "why_not_held": None, **changed})  # type: ignore[arg-type]


def found(
    ready: Prepared, folder: Path, *, looked: tuple[Finding, ...] = (), status: Status | None = None, **offers: object
) -> dict[str, Finding]:
    """Return every finding by its name."""
    told = status or Status(battery=0.8, card_frames_left=500, temperature_c=None, busy=False)
    seen = BodySeen(identity=REAL, looked=looked, offers=offers_of(ready, **offers), status=told)
    return {one.what: one for one in findings(ready, seen, folder)}


def test_a_body_that_stands_as_it_should_stops_nothing(tmp_path: Path) -> None:
    all_found = found(ready_of(), tmp_path)
    assert {one.verdict for one in all_found.values()} == {"ok", "note"}
    assert all_found["tried"].verdict == "note"
    assert "not tried on hardware" in all_found["tried"].sentence
    assert all_found["holding"].sentence == "Rung 5, up to 2:08 min, by its bulb."


@pytest.mark.parametrize(
    ("offers", "what", "words"),
    [
        (
            {"times": ("1/8", "1", "30")},
            "times",
            "1/4000 s, 1/125 s, 2 s with its present settings, for rungs 1, 2 and the test exposure of rung 5",
        ),
        ({"times": ()}, "times", "None can be set"),
        ({"apertures": ("f/22",)}, "apertures", "does not offer"),
        ({"isos": ("200",)}, "ISO", "does not offer"),
        ({"isos": ()}, "ISO", "narrow the plan's limits to one"),
        ({"held_by": None, "why_not_held": "Bulb is not offered."}, "holding", "Rung 5"),
    ],
)
def test_what_the_body_can_not_do_stops_before_minute_ten(
    tmp_path: Path, offers: dict[str, Any], what: str, words: str
) -> None:
    finding = found(ready_of(), tmp_path, **offers)[what]
    assert finding.verdict == "stop"
    assert words in finding.sentence


def test_one_aperture_that_only_the_lens_can_set_is_left_to_the_person(tmp_path: Path) -> None:
    ready = ready_of(LADDER.replace("[limits]", '[limits]\naperture = ["f/8", "f/8"]'))
    finding = found(ready, tmp_path, apertures=())["apertures"]
    assert finding.verdict == "note"
    assert "Set f/8 by hand" in finding.sentence


def test_a_ladder_that_holds_nothing_needs_no_bulb(tmp_path: Path) -> None:
    ready = ready_of(BASE + '[rungs]\ntimes = ["1/125"]\n')
    assert found(ready, tmp_path, held_by=None)["holding"].verdict == "ok"


def test_rungs_that_show_shake_are_named_with_ways_and_what_those_cap(tmp_path: Path) -> None:
    curtain = ShutterOption.model_validate({"how": "In the menu.", "shortest": "1/2000"})
    ready = ready_of(shutter={"first curtain": curtain})
    sentence = found(ready, tmp_path)["shake"].sentence
    assert sentence.startswith("Rungs 3, 4: between 1/30 s and 1 s")
    assert "First curtain (not for rung 1: too short for it): In the menu." in sentence
    assert found(ready_of(BASE + '[rungs]\ntimes = ["1/125"]\n'), tmp_path)["shake"].verdict == "ok"


@pytest.mark.parametrize(("finder", "verdict", "words"), [
    (False, "ok", "no optical viewfinder"), (True, "note", "Cover the optical viewfinder for rungs 4, 5"),
    (None, "note", "If"),
])  # fmt: skip
def test_the_finder_is_covered_for_long_rungs(tmp_path: Path, finder: bool | None, verdict: str, words: str) -> None:
    ready = ready_of()
    ready = replace(ready, abilities=replace(ready.abilities, optical_finder=finder))
    finding = found(ready, tmp_path)["finder"]
    assert finding.verdict == verdict
    assert words in finding.sentence


@pytest.mark.parametrize(
    ("planned", "verdict_of_look", "verdict", "words"),
    [
        ("none", "ok", "ok", "as planned"),
        ("none", "note", "note", "twice as long"),
        ("by the body", "ok", "note", "Switch it on"),
        ("by the body", "note", "ok", "as planned"),
    ],
)
def test_the_bodys_own_dark_frames_are_held_against_the_plan(
    tmp_path: Path, planned: str, verdict_of_look: str, verdict: str, words: str
) -> None:
    says = "Off" if verdict_of_look == "ok" else "On"
    look = Finding(what=DARK_FRAME, verdict=verdict_of_look, sentence="x", says=says)  # type: ignore[arg-type]
    ready = ready_of(LADDER.replace("[limits]", f'[run]\ndark_frames = "{planned}"\n[limits]'))
    finding = found(ready, tmp_path, looked=(look,))[DARK_FRAME]
    assert (finding.verdict, says in finding.sentence) == (verdict, True)
    assert words in finding.sentence


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


@pytest.mark.parametrize(
    ("left", "verdict", "words"),
    [
        (0, "stop", "There is none"),
        (3, "note", "3 frames; the ladder makes 11"),
        (11, "ok", "11"),
        (None, "note", "11"),
    ],
)
def test_room_on_the_card(tmp_path: Path, left: int | None, verdict: str, words: str) -> None:
    status = Status(battery=0.8, card_frames_left=left, temperature_c=None, busy=False)
    finding = found(ready_of(), tmp_path, status=status)["room on the card"]
    assert finding.verdict == verdict
    assert words in finding.sentence


@pytest.mark.parametrize(
    ("charge", "per_h", "verdict", "words"),
    [
        (None, None, "note", "does not tell"),
        (0.03, None, "stop", "change it"),
        (0.9, None, "note", "not known. Near freezing"),
        (0.9, 0.1, "ok", "by own measurement"),
        (0.3, 2.0, "note", "Have another at hand"),
    ],
)
def test_the_battery_against_the_time_it_takes(
    tmp_path: Path, charge: float | None, per_h: float | None, verdict: str, words: str
) -> None:
    ready = ready_of()
    other = ready.body_file.body.model_copy(update={"battery_per_h": per_h})
    ready = replace(ready, body_file=ready.body_file.model_copy(update={"body": other}))
    status = Status(battery=charge, card_frames_left=500, temperature_c=None, busy=False)
    finding = found(ready, tmp_path, status=status)["battery"]
    assert finding.verdict == verdict
    assert words in finding.sentence


def test_a_battery_that_is_low_by_a_word_stops_a_run_from_being_begun(tmp_path: Path) -> None:
    status = Status(battery=None, card_frames_left=500, temperature_c=None, busy=False, battery_low=True)
    finding = found(ready_of(), tmp_path, status=status)["battery"]
    assert (finding.verdict, finding.sentence) == ("stop", "The camera says that its battery is low: change it.")


def shot(kind: str, rung: int | None) -> Shot:
    return replace(shots_of(ready_of().ladder)[0], kind=kind, rung=rung)  # type: ignore[arg-type]


def test_places_in_a_ladder_are_said_shortly() -> None:
    shots = [shot("rung", number) for number in (4, 1, 2, 3, 7, 9, 10)]
    assert places(shots) == "rungs 1 to 4, 7, 9, 10"
    assert places([shot("rung", 2)]) == "rung 2"
    assert places([shot("proof", 5), shot("dark", None)]) == "the test exposure of rung 5 and the dark frames"


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
