"""``tether body``, the options that reach a camera, and ``tether finish``, as typed; without a camera that is real.

What is on USB of the machine is never touched: a port that can't be, or the camera library's own virtual camera.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tomllib
from contextlib import nullcontext
from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import CliRunner, Result

from tests.body.driver.on_wire import on_wire
from tests.body.driver.virtual import make_card
from tests.capture.test_trial_agreement import REPORT
from tests.command.terminal import Terminal
from tests.schemas import valid
from tether.body.connected import Connected
from tether.body.protocol import Finding, Offers
from tether.command import body as body_commands
from tether.command.commands import tether
from tether.errors import CameraError, PlanError, TetherError

NOWHERE = "usb:000,000"
PLAN = """
title = "At home"
darker_by = "nothing"
[body]
file = "{file}"
[lens]
focal_mm = 35
widest = "f/2.8"
narrowest = "f/22"
[base]
time = "1/60"
aperture = "f/8"
iso = 100
frames = 0
[rungs]
times = ["1/60"]
frames = 1
"""


@pytest.fixture(autouse=True)
def config(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.chdir(tmp_path)
    return tmp_path / "config" / "tether" / "bodies"


def plan_of(folder: Path, file: str) -> str:
    path = folder / "home.toml"
    path.write_text(PLAN.format(file=file))
    return str(path)


def run(*words: str) -> Result:
    """Run a command in this process; errors of the product come out as the exception they are."""
    return CliRunner().invoke(tether, list(words), env={"COLUMNS": "80"})


def outside(folder: Path, *words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run a command in a process of its own."""
    command = [sys.executable, "-m", "tether.command", *words]
    env = {**os.environ, "COLUMNS": "80", **environment}
    return subprocess.run(
        command, cwd=folder, env=env, input="", capture_output=True, text=True, timeout=60, check=False
    )


# What is known of a body


def test_show_names_the_files_there_are_and_for_each_value_the_one_it_is_from(config: Path) -> None:
    config.mkdir(parents=True)
    (config / "canon-eos.toml").write_text("[body]\nfetch_s = 7.5\n")
    assert "canon-eos" in run("body", "show").output.split()
    shown = " ".join(run("body", "show", "canon-eos").output.split())
    assert "[2] fetch_s 7.5" in shown
    assert "[1] frame_bytes" in shown
    assert "not tried on hardware" in shown
    assert "Where the values come from" in shown
    told = json.loads(run("body", "show", "canon-eos", "--json").output)
    assert told["values"]["body.fetch_s"]["value"] == 7.5
    assert told["values"]["body.fetch_s"]["file"] == str(config / "canon-eos.toml")
    assert told["values"]["times.step"]["source"]


@pytest.mark.parametrize(
    ("text", "words"), [("[body]\nfetch_s = -1\n", "canon-eos.toml: body.fetch_s"), ("x = [", "canon-eos.toml")]
)
def test_a_wrong_file_of_ones_own_is_told_by_its_name_and_key(config: Path, text: str, words: str) -> None:
    config.mkdir(parents=True)
    (config / "canon-eos.toml").write_text(text)
    error = run("body", "show", "canon-eos").exception
    assert isinstance(error, PlanError)
    assert words in str(error)


# Checks


def test_check_on_the_simulated_body_shows_all_on_a_screen(tmp_path: Path) -> None:
    checked = run("body", "check", plan_of(tmp_path, "simulated"))
    assert checked.exit_code == 0, checked.output
    assert "SIMULATED" in checked.output
    assert len(checked.output.splitlines()) <= 24
    assert max(map(len, checked.output.splitlines())) <= 80


def test_check_without_a_camera_says_what_to_look_at(tmp_path: Path) -> None:
    checked = run("body", "check", plan_of(tmp_path, "canon-eos"), "--port", NOWHERE)
    assert checked.exit_code == 3
    assert "No camera is found at usb:000,000" in " ".join(checked.output.split())


@pytest.mark.prove
def test_a_run_without_a_camera_ends_before_it_begins_and_can_be_gone_on_with(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, "canon-eos")
    done = outside(tmp_path, "run", plan, "--outing", "here", "--port", NOWHERE)
    assert done.returncode == 3
    assert "No camera is found" in done.stderr
    assert "nothing was exposed" in done.stderr
    assert "--despite" not in done.stderr, "there is no going on without a camera"
    again = outside(tmp_path, "run", "here")
    assert again.returncode == 3
    assert "No camera is found" in again.stderr


@pytest.mark.parametrize(("despite", "words"), [("fokus=x", "mode dial"), ("focus", '--despite "focus=your reason"')])
def test_what_is_no_check_or_has_no_reason_is_a_sentence(tmp_path: Path, despite: str, words: str) -> None:
    error = run("run", plan_of(tmp_path, "canon-eos"), "--port", NOWHERE, "--despite", despite).exception
    assert isinstance(error, PlanError)
    assert words in str(error)
    assert not (tmp_path / "outings").exists()


@pytest.mark.prove
def test_a_run_that_was_stopped_goes_on_despite_it_with_the_reason_in_its_log(tmp_path: Path) -> None:
    (tmp_path / "world.toml").write_text("battery = 0.03\n[sensor]\nwindow_px = [240, 160]\n")
    words = ("rehearse", plan_of(tmp_path, "simulated"), "--pace", "60", "--outing", "here", "--world", "world.toml")
    stopped = outside(tmp_path, *words, "--answer-for-me")
    assert stopped.returncode == 3
    assert "battery: 3%: change it." in stopped.stderr
    assert not list((tmp_path / "here" / "frames").iterdir())
    again = outside(tmp_path, "run", "here", "--despite", "battery=I am quick")
    assert again.returncode == 0, again.stderr
    checks = json.loads(outside(tmp_path, "log", "here", "--json").stdout)["runs"][1]["checks"]
    (battery,) = [check for check in checks if check["what"] == "battery"]
    assert battery == {"what": "battery", "verdict": "note", "text": "3%: change it. Overridden: I am quick."}


# The camera library's own virtual camera


@pytest.fixture
def virtual(tmp_path: Path) -> dict[str, str]:
    return {"VCAMERADIR": str(make_card(tmp_path / "card")), "HOME": str(tmp_path)}


@pytest.mark.prove
def test_what_is_connected_is_listed_drafted_and_checked(tmp_path: Path, virtual: dict[str, str]) -> None:
    listed = outside(tmp_path, "body", "list", **virtual)
    assert listed.returncode == 0, listed.stderr
    assert "D750" in listed.stdout
    assert "usb:001,001" in listed.stdout
    drafted = outside(tmp_path, "body", "draft", "mine.toml", **virtual)
    assert drafted.returncode == 0, drafted.stderr
    data = tomllib.loads((tmp_path / "mine.toml").read_text())
    assert "D750" in data["name"]
    assert data["times"]["longest"] == "1"
    again = outside(tmp_path, "body", "draft", "mine.toml", **virtual)
    assert (again.returncode, "left as it is" in again.stderr) == (2, True)
    tried = outside(tmp_path, "body", "try", "--yes", **virtual)
    assert (tried.returncode, "a camera that is none" in tried.stderr) == (2, True)
    checked = outside(tmp_path, "body", "check", plan_of(tmp_path, "mine.toml"), **virtual)
    assert checked.returncode == 3
    assert "VCAMERADIR" in checked.stdout
    assert "1/60 s" in checked.stdout


# A trial


@pytest.mark.prove
def test_a_trial_is_rehearsed_and_never_says_that_hardware_was_tried(
    tmp_path: Path, config: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(body_commands, "HOLDS_S", (0.3, 0.6))
    plan = plan_of(tmp_path, "simulated")
    tried = run("body", "try", "--simulated", "--yes", "--needs", plan, "--report", "report.md", "--json")
    assert tried.exit_code == 0, tried.output
    told = valid("trial", tried.stdout)
    assert (told["simulated"], told["good"], told["report"]) == (True, True, "report.json")
    assert told["serial"] is None, "it was not asked for"
    assert [frame["way"] for frame in told["frames"]].count("held") == 2
    report = (tmp_path / "report.md").read_text()
    whole = valid("trial-report", (tmp_path / "report.json").read_text())
    assert [one["name"] for one in whole["entries"]].count("iso") == 1
    assert len(whole["settings"]) == told["settings"]["count"]
    assert "on USB only" in whole["left_out"], "it was on a network"
    assert "wire" not in json.dumps(whole["entries"]).lower().replace("on the wire", ""), "its number is masked"
    assert "**SIMULATED" in report
    assert report.count("| bulb ") == 2
    written = tomllib.loads((config / "wire-eos.toml").read_text())
    assert "tried" not in written
    assert written["hold"]["can_hold"] is True
    assert written["body"]["frame_bytes"] > 0
    again = run("body", "try", "--simulated", "--yes", "--report", "report.md").exception
    assert isinstance(again, PlanError)
    assert (tmp_path / "report.md").read_text() == report


def test_nothing_is_exposed_before_the_person_says_so(tmp_path: Path, config: Path) -> None:
    words = ("body", "try", "--simulated", "--quick", "--needs", plan_of(tmp_path, "simulated"))
    with Terminal(tmp_path, *words) as terminal:
        terminal.wait_for("May it")
        assert "Exposing" not in terminal.seen
        terminal.press("n\n")
        assert terminal.end() == 2
    assert "Nothing was exposed" in terminal.seen
    assert "Exposing" not in terminal.seen
    assert not list(tmp_path.glob("trial-*"))
    assert not config.exists()


def test_where_nobody_can_be_asked_it_must_be_said_beforehand() -> None:
    error = run("body", "try", "--simulated").exception
    assert isinstance(error, PlanError)
    assert "--yes" in str(error)


def test_a_trial_without_a_camera_says_what_to_look_at() -> None:
    error = run("body", "try", "--yes", "--port", NOWHERE).exception
    assert isinstance(error, CameraError)
    assert "No camera is found" in str(error)


# Through the driver, and the end


def test_through_the_driver_only_in_real_time(tmp_path: Path) -> None:
    error = run("rehearse", plan_of(tmp_path, "simulated"), "--through-driver", "--pace", "60").exception
    assert isinstance(error, PlanError)
    assert "real time" in str(error)


@pytest.mark.prove
def test_a_rehearsal_through_the_driver_is_finished_and_copied(tmp_path: Path) -> None:
    (tmp_path / "world.toml").write_text("[sensor]\nwindow_px = [240, 160]\n")
    plan = plan_of(tmp_path, "simulated")
    words = ("rehearse", plan, "--through-driver", "nikon", "--outing", "here", "--world", "world.toml")
    done = outside(tmp_path, *words)
    assert done.returncode == 0, done.stderr
    assert "Checked and fine" in done.stderr
    assert "SIMULATED" in done.stderr
    assert "1 made, all of them copied" in done.stdout
    finished = outside(tmp_path, "finish", "here", "--copy-to", "disk")
    assert finished.returncode == 0, finished.stdout
    assert "own settings are restored" in finished.stdout
    assert list((tmp_path / "disk" / "here" / "frames").iterdir())


def test_finishing_what_is_no_outing_is_a_sentence(tmp_path: Path) -> None:
    assert isinstance(run("finish", str(tmp_path)).exception, TetherError)


# A draft, and a camera on a network


def test_a_draft_of_a_body_that_offers_no_times_says_what_to_set_and_writes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stands = Finding(what="mode dial", verdict="stop", sentence="It says AV. Turn the mode dial to M.")
    offers = Offers(times=(), apertures=("f/8",), isos=("100",), held_by=None, why_not_held=None)
    seen = SimpleNamespace(seen=SimpleNamespace(offers=offers, looked=(stands,)))
    monkeypatch.setattr(body_commands, "connected", lambda: (Connected(model="Canon EOS 6D", port="", hindrance=None),))
    monkeypatch.setattr(body_commands, "_opened", lambda *_: nullcontext(seen))
    drafted = run("body", "draft", "new.toml").exception
    assert isinstance(drafted, CameraError)
    assert "offers no times with its present settings" in str(drafted)
    assert "Turn the mode dial to M. Then: tether body draft new.toml" in str(drafted)
    assert not (tmp_path / "new.toml").exists()


@pytest.mark.parametrize(
    "words",
    [
        ("run", "PLAN"),
        ("body", "check", "PLAN"),
        ("body", "try", "--yes"),
        ("body", "draft", "new.toml"),
        ("base", "PLAN"),
    ],
    ids=" ".join,
)
def test_a_camera_on_a_network_of_which_it_can_not_be_told_what_it_is_is_refused_in_words(
    tmp_path: Path, words: tuple[str, ...]
) -> None:
    plan = plan_of(tmp_path, "sony-alpha")
    asked = [plan if word == "PLAN" else word for word in words]
    refused = run(*asked, "--port", "ptpip:192.0.2.1").exception
    assert isinstance(refused, PlanError), refused
    assert 'name it with --model, as the camera library does: "Canon EOS (WLAN)"' in str(refused)
    assert not list(tmp_path.glob("outings/*"))


@pytest.mark.prove
def test_a_camera_on_a_network_is_drafted_by_its_port_and_the_library_s_name(tmp_path: Path) -> None:
    with on_wire(tmp_path, "eos") as wire:
        port = f"ptpip:127.0.0.1:{wire.camera.port}"  # the number once: it is said twice to the library
        drafted = outside(tmp_path, "body", "draft", "new.toml", "--port", port, "--model", "Canon EOS (WLAN)")
    assert drafted.returncode == 0, drafted.stderr
    data = tomllib.loads((tmp_path / "new.toml").read_text())
    assert data["driver"]["models"] == ["Canon EOS (WLAN)"]
    assert data["times"]["longest"] == "1/4"


# A report held against a body file


def test_a_report_is_held_against_the_file_that_fits_and_says_what_it_may_say_of_itself(tmp_path: Path) -> None:
    (tmp_path / "trial.json").write_text(json.dumps(REPORT))
    said = run("body", "compare", "trial.json")
    assert said.exit_code == 0, said.output
    assert "agrees  all else  model, time entry" in said.stdout
    assert 'tried = "2026-11-27, libgphoto2 2.5.33, firmware 1.8.2: 1 of 1 frames made' in said.stderr
    told = valid("agreement", run("body", "compare", "trial.json", "canon-eos-r5", "--json").stdout)
    assert (told["body_file"], told["differs"], told["tried"]) == ("canon-eos-r5", True, None)
    other = run("body", "compare", "trial.json", "canon-eos-r5")
    assert other.exit_code == 1
    assert "DIFFERS" in other.stdout
    assert "canon-eos-r5 stays “not tried on hardware”: something differs." in other.stderr


def test_a_report_of_a_body_that_no_file_fits_asks_for_one(tmp_path: Path) -> None:
    unknown = {**REPORT, "trial": {**REPORT["trial"], "model": "Nobody's"}}
    (tmp_path / "trial.json").write_text(json.dumps(unknown))
    error = run("body", "compare", "trial.json").exception
    assert isinstance(error, PlanError)
    assert "No body file fits Nobody's; name one behind the report." in str(error)
