"""What a ladder needs of its body, held against what that offers: what stops, what is worth knowing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.checks.rig import LADDER, found, ready_of
from tests.engine.rig import BASE
from tether.body.bodyfile import ShutterOption
from tether.body.protocol import Finding, Status
from tether.checks.ladder import DARK_FRAME, battery, places, shots_of
from tether.shot.shot import Shot


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


def test_everything_a_ladder_asks_of_the_body_is_there_once_but_what_is_only_offered() -> None:
    def kinds(dark_frames: str) -> list[str]:
        text = LADDER.replace("[limits]", f'[run]\ndark_frames = "{dark_frames}"\n[limits]')
        return [one.kind for one in shots_of(ready_of(text).ladder)]

    assert kinds("offer") == ["rung"] * 5 + ["proof"]
    assert kinds("at the end") == ["rung"] * 5 + ["proof", "dark"]


def test_no_more_than_four_values_are_named(tmp_path: Path) -> None:
    times = '["1/4000", "1/2000", "1/1000", "1/500", "1/250", "1/125"]'
    text = f"{BASE}[rungs]\ntimes = {times}\n[limits]\niso = [100, 6400]\n"
    sentence = found(ready_of(text), tmp_path, times=("1/8",))["times"].sentence
    assert "does not offer 1/4000 s, 1/2000 s, 1/1000 s and 3 more with its present settings" in sentence


def test_without_its_own_measurement_a_battery_is_only_told_and_simulated_ones_do_not_freeze(tmp_path: Path) -> None:
    """0.4 of the charge for each hour; half of what is left counts near freezing."""
    ready = ready_of()
    hours = ready.ladder.forecast.total_s / 3600
    edge = 0.5 / hours  # uses up half of a full battery
    for per_h, verdict in ((edge * 0.99, "ok"), (edge * 1.01, "note")):
        body = ready.body_file.body.model_copy(update={"battery_per_h": per_h})
        status = Status(battery=1.0, card_frames_left=500, temperature_c=None, busy=False)
        file = ready.body_file.model_copy(update={"body": body})
        assert battery(ready.ladder, status, file).verdict == verdict
    simulated = replace(ready.ladder, simulated=True)
    told = battery(simulated, Status(battery=0.5, card_frames_left=5, temperature_c=None, busy=False), ready.body_file)
    assert (told.verdict, "freezing" in told.sentence) == ("ok", False)
