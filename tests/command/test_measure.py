"""``tether measure`` as typed, on the simulated body; what is stored, and who uses it then."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from tests.engine.rig import BASE
from tests.schemas import valid
from tether.body.simulated.world import SensorTruth
from tether.capture import measuring
from tether.checks import host as machine
from tether.command import measure as commands
from tether.command.commands import tether
from tether.errors import CameraError, PlanError

HEAD = """
title = "Measured"
[body]
file = "simulated"
[lens]
focal_mm = 24
widest = "f/2.8"
narrowest = "f/22"
"""
RUNGS = '[rungs]\ntimes = ["1/125", "4"]\n'
FILTERS = "".join(f'[[filter]]\nname = "Calder {stops}"\nstops = {stops}\n' for stops in (3, 6))
WORLD = """
sensor = { window_px = [300, 200] }
base_level_stops = -3.5
leak_e_s = %s
[filters."Calder 3"]
stops = 3.21
cast_stops = [0.10, 0.0, -0.05]
[filters."Calder 6"]
stops = 6.37
"""


@pytest.fixture(autouse=True)
def config(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(measuring, "WITHOUT", 8)
    (tmp_path / "plan.toml").write_text(HEAD + BASE + RUNGS + FILTERS)
    (tmp_path / "world.toml").write_text(WORLD % 0)
    return tmp_path / "config" / "tether"


def run(*words: str) -> Result:
    return CliRunner().invoke(tether, list(words), env={"COLUMNS": "100"})


def measure(*words: str) -> Result:
    return run("measure", "filter", *words, "--plan", "plan.toml", "--world", "world.toml")


@pytest.mark.prove
def test_filters_are_measured_stored_and_planned_with(config: Path) -> None:
    result = measure("Calder 3", "Calder 6", "--stacked", "--json")
    assert result.exit_code == 0, result.output
    told = valid("strength", result.stdout)
    assert told["simulated"]
    assert [one["stored"] for one in told["filters"]] == [True, True, False]
    three, _, both = told["filters"]
    assert three["stops"]["G"]["value"] == pytest.approx(3.21, abs=0.02)
    assert three["cast_stops"]["R"]["value"] == pytest.approx(0.10, abs=0.01)
    assert both["stops"]["G"]["value"] == pytest.approx(9.58, abs=0.02)
    assert abs(told["beyond_sum_stops"]["value"]) < told["beyond_sum_stops"]["half_width"]
    stored = {one["name"]: one for one in tomllib.loads((config / "filters.toml").read_text())["filter"]}
    assert set(stored) == {"Calder 3", "Calder 6"}
    assert stored["Calder 6"]["simulated"]
    planned = run("ladder", "plan.toml", "--json")
    assert any(
        f"Calder 6: measured {stored['Calder 6']['stops']:.2f}" in one for one in json.loads(planned.stdout)["notes"]
    )


def test_a_filter_that_leaks_is_told_and_not_stored(config: Path, tmp_path: Path) -> None:
    (tmp_path / "world.toml").write_text(WORLD % 500.0)
    result = measure("Calder 6")
    assert result.exit_code == 1
    assert "cover the viewfinder" in result.output
    assert "is not stored" in result.output
    assert not (config / "filters.toml").exists()


def test_what_is_rehearsed_for_a_camera_s_plan_is_shown_and_never_stored(config: Path, tmp_path: Path) -> None:
    """What is stored goes into every later plan with a filter of that name; a simulated filter is not the real one."""
    (tmp_path / "plan.toml").write_text((HEAD + BASE + RUNGS + FILTERS).replace('"simulated"', '"canon-eos-r6"'))
    result = measure("Calder 3", "--json")
    assert result.exit_code == 0, result.output
    told = valid("strength", result.stdout)
    assert (told["simulated"], told["filters"][0]["stored"]) == (True, False)
    assert "is not stored: this was a rehearsal" in result.stderr
    assert not (config / "filters.toml").exists()


@pytest.mark.prove
@pytest.mark.parametrize(("leak_e_s", "told"), [(0.0, False), pytest.param(900.0, True, marks=pytest.mark.prove)])
def test_a_strength_that_falls_with_time_tells_of_light_let_in(tmp_path: Path, leak_e_s: float, told: bool) -> None:
    (tmp_path / "world.toml").write_text(WORLD % leak_e_s)
    result = measure("Calder 6", "--longer")
    assert ("four times as long" in result.stdout) == told, result.output
    assert result.exit_code == int(told)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("filter", "Nix", "--plan", "plan.toml"), "has no ND filter “Nix”; it has Calder 3, Calder 6"),
        (("filter", "Calder 3", "--stacked", "--plan", "plan.toml"), "at least two"),
        (("hold",), "one of --plan, --body, --simulated and --through-driver"),
        (("hold", "--plan", "plan.toml", "--simulated"), "one of --plan, --body, --simulated and --through-driver"),
    ],
)
def test_what_makes_no_sense_is_told(words: tuple[str, ...], sentence: str) -> None:
    error = run("measure", *words).exception
    assert isinstance(error, PlanError)
    assert sentence in str(error)


def test_the_shutter_is_measured_and_stands_in_ones_own_body_file(
    config: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The simulated body opens 60 ms and closes 45 ms after its commands, give or take 5 ms each."""
    monkeypatch.setattr(commands, "_SMALL", SensorTruth(window_px=(300, 200)))
    result = run("measure", "hold", "--body", "simulated", "--repeats", "6", "--json")
    assert result.exit_code == 0, result.output
    told = valid("opening", result.stdout)
    assert told["body_file"] == str(config / "bodies" / "simulated.toml")
    assert told["delay_s"]["value"] == pytest.approx(-0.015, abs=0.006)
    assert not told["lying"]
    own = tomllib.loads((config / "bodies" / "simulated.toml").read_text())
    assert own["hold"]["close_delay_s"] == 0.0
    assert own["hold"]["open_delay_s"] == pytest.approx(-told["delay_s"]["value"], abs=1e-4)
    assert "by light" in own["sources"]["hold.open_delay_s"]["what"]


@pytest.mark.parametrize("words", [("filter", "Calder 3"), ("hold", "--yes")])
def test_the_camera_s_connection_is_looked_at_before_it_is_opened(
    words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "plan.toml").write_text((HEAD + BASE + RUNGS + FILTERS).replace('"simulated"', '"canon-eos-r6"'))
    monkeypatch.setattr("tether.checks.host.connected", lambda: ())
    done = run("measure", *words, "--plan", "plan.toml")
    assert isinstance(done.exception, CameraError), done.output
    assert f"tether measure {words[0]}" in str(done.exception)
    monkeypatch.setenv(machine.SPOILING[0], "1")
    assert "unset it" in str(run("measure", *words, "--plan", "plan.toml").exception)
