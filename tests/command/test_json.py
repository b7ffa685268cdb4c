"""What commands tell other programs: JSON alone on standard output, valid by a schema of its own."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from tests.command.written import written
from tests.page.choosing import draw
from tests.schemas import SCHEMAS, valid
from tether.body.connected import Connected
from tether.command import body as body_commands
from tether.command.commands import tether
from tether.errors import PlanError
from tether.journal.telling import read_outing
from tether.report.choosing import file_of
from tether.service.scheduler import plan_series, plan_start
from tether.service.series import Series

#: By which schema the output of a command is valid; where `body show` names none, `bodies` is.
BY = {
    "average": "average",
    "base": "base",
    "body check": "checks",
    "body compare": "agreement",
    "body list": "cameras",
    "body show": "body",
    "body try": "trial",
    "finish": "finish",
    "ladder": "ladder",
    "light": "light",
    "log": "log",
    "measure filter": "strength",
    "measure hold": "opening",
    "picks": "picks",
    "plans": "plans",
    "setup": "setup",
    "starts": "starts",
    "watch": "watch",
}
PLAN = """
title = "At home"
darker_by = "nothing"
[body]
file = "simulated"
[lens]
focal_mm = 35
widest = "f/2.8"
narrowest = "f/22"
[base]
time = "1/60"
aperture = "f/8"
iso = 100
[rungs]
times = ["1/60"]
"""


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("XDG_CONFIG_HOME", "XDG_STATE_HOME"):
        monkeypatch.setenv(name, str(tmp_path / name))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "home.toml").write_text(PLAN)
    return tmp_path


def run(*words: str) -> Result:
    """Run a command in this process; errors of the product come out as the exception they are."""
    return CliRunner().invoke(tether, list(words), env={"COLUMNS": "80"})


def commands(group: click.Group = tether, before: str = "") -> Iterator[tuple[str, click.Command]]:
    """Yield every command with its name, inner ones too."""
    for name, command in group.commands.items():
        if isinstance(command, click.Group):
            yield from commands(command, f"{before}{name} ")
        else:
            yield before + name, command


# The schemas


def test_every_command_that_prints_json_has_a_schema_and_every_schema_a_command() -> None:
    with_json = {name for name, one in commands() if any(given.name == "as_json" for given in one.params)}
    assert with_json >= set(BY)
    unknown = with_json - set(BY) - set(SCHEMAS)
    assert not unknown, "a command that prints JSON has no schema"
    assert set(BY.values()) | {"bodies", "socket"} <= set(SCHEMAS)


@pytest.mark.parametrize("name", sorted(SCHEMAS))
def test_every_schema_is_one_and_its_id_says_its_name_and_version(name: str) -> None:
    schema = SCHEMAS[name]
    Draft202012Validator.check_schema(schema)
    of_this_name = {"watch": "urn:tether:watch:1", "socket": "urn:tether:socket:2"}
    if name in of_this_name:
        assert schema["$id"] == of_this_name[name]
    else:
        version = schema["properties"]["schema"]["const"]
        assert schema["$id"] == f"urn:tether:{version.removeprefix('tether-').replace('/', ':')}"
        assert version.startswith(f"tether-{name}/")
        assert "schema" in schema["required"]


# What is printed


def test_what_is_connected(monkeypatch: pytest.MonkeyPatch) -> None:
    cameras = (
        Connected(model="Canon EOS R6", port="usb:001,004", hindrance=None),
        Connected(model="Body of nobody", port="usb:001,005", hindrance="The camera library does not know it."),
    )
    monkeypatch.setattr(body_commands, "connected", lambda: cameras)
    one, other = valid("cameras", run("body", "list", "--json").stdout)["cameras"]
    assert (one["model"], one["hindrance"], one["body_files"][0]) == ("Canon EOS R6", None, "canon-eos-r6")
    assert (other["body_files"], other["hindrance"]) == ([], "The camera library does not know it.")


def test_where_nothing_is_connected_that_is_data_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(body_commands, "connected", lambda: ())
    told = run("body", "list", "--json")
    assert valid("cameras", told.stdout)["cameras"] == []
    assert told.exit_code == 3
    assert "No camera is found" in told.stderr


def test_body_files_and_one_of_them() -> None:
    names = valid("bodies", run("body", "show", "--json").stdout)["bodies"]
    assert "simulated" in names
    assert valid("body", run("body", "show", "simulated", "--json").stdout)["simulated"] is True
    family = valid("body", run("body", "show", "canon-eos", "--json").stdout)
    assert (family["simulated"], family["tried"]) == (False, None)


def test_checks_of_the_simulated_body() -> None:
    told = run("body", "check", "home.toml", "--json")
    found = valid("checks", told.stdout)
    assert (found["plan"], found["stops"]) == ("home.toml", False)
    assert all(one["sentence"] for one in found["checks"])


def test_plans_by_name_ones_own_before_a_shipped_one(folder: Path) -> None:
    own = folder / "XDG_CONFIG_HOME" / "tether" / "plans"
    own.mkdir(parents=True)
    (own / "demo.toml").write_text(PLAN)
    (own / "bad.toml").write_text("title = \n")
    plans = {one["name"]: one for one in valid("plans", run("plans", "--json").stdout)["plans"]}
    assert (plans["demo"]["title"], plans["demo"]["file"]) == ("At home", str(own / "demo.toml"))
    assert plans["weir"]["problem"] is None
    assert plans["bad"]["title"] is None
    assert "bad.toml" in plans["bad"]["problem"]
    assert "At home" in run("plans").stdout
    assert run("ladder", "demo").exit_code == 0


def test_what_a_system_needs_once() -> None:
    steps = valid("setup", run("setup", "--json").stdout)["steps"]
    assert [one["part"] for one in steps][:2] == ["rule", "unit"]
    assert isinstance(run("setup", "rule", "--json").exception, PlanError)


# Of outings


def test_picks_and_an_average(folder: Path) -> None:
    outing = written(folder / "evening")
    (outing / "frames").mkdir(exist_ok=True)
    (outing / "previews").mkdir(exist_ok=True)
    for frame in read_outing(outing).ladders[0].frames:
        draw(outing / (file_of(frame) or ""), frame.frame)
    (outing / "choices.toml").write_text('[frame.3]\nchoice = "keep"\n')
    averaged = valid("average", run("average", "evening", "--rung", "2", "--to", "mean.dng", "--json").stdout)
    assert (averaged["frames"], averaged["file"]) == (2, "mean.dng")
    picked = run("picks", "evening", "--to", "picks", "--json")
    found = valid("picks", picked.stdout)
    assert (found["copied"], found["there"]) == ([], [])
    assert len(found["problems"]) == 1, "what was drawn is not what the journal has the digest of"
    assert valid("log", run("log", "evening", "--json").stdout)["outing"] == "evening"


def test_starts_that_are_planned_are_listed_and_one_is_taken_back(folder: Path) -> None:
    first = datetime(2126, 10, 3, 16, 0, tzinfo=UTC)
    plan_start(written(folder / "once"), first + timedelta(hours=1))
    plan_series(
        written(folder / "often"), Series(first=first, every=timedelta(minutes=20), until=first.replace(hour=18))
    )
    told = valid("starts", run("starts", "--json").stdout)
    assert told["waiting"] is False
    assert [(Path(one["outing"]).name, one["every_s"]) for one in told["starts"]] == [("often", 1200), ("once", None)]
    assert datetime.fromisoformat(told["starts"][1]["start_utc"]) == first + timedelta(hours=1)
    shown = run("starts")
    assert "every 20" in shown.stdout
    assert len(shown.stdout.splitlines()) == 2
    assert "tether stop" in shown.stderr
    assert "Nothing waits for these" in shown.stderr
    assert run("stop", "once").exit_code == 0
    assert [one["every_s"] for one in valid("starts", run("starts", "--json").stdout)["starts"]] == [1200]
    assert json.loads(run("starts", "--json").stdout)["schema"] == "tether-starts/1"
