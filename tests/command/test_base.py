"""``tether base`` as typed, on the simulated body: from starts that are far off, with --write, and what is refused."""

from __future__ import annotations

import re
import tomllib
from functools import partial
from math import log2
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from tests.command.test_commands import run_outside
from tests.plan.plans import COMMENTED as PLAN
from tests.schemas import valid
from tether.body.local import LocalCamera
from tether.capture.session import shooting
from tether.clock import SteppedClock
from tether.command import base as base_command
from tether.command.commands import tether
from tether.errors import CameraError, PlanError
from tether.frames.exposing import WANTED_STOPS
from tether.plan.file import read_plan

SMALL = "sensor = { window_px = [240, 160] }\nscene = { fall_m_s = 0, run_m_s = 0, pool_m_s = 0, leaves_m = 0 }\n"


@pytest.fixture
def plan(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "weir.toml").write_text(PLAN)
    return tmp_path / "weir.toml"


@pytest.fixture
def stepped(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have no time pass."""
    monkeypatch.setattr(base_command, "shooting", partial(shooting, clock=SteppedClock()))


def base(plan: Path, *words: str, world: str = "") -> Result:
    """Find the base of a plan in a world; errors of the product come out as the exception they are."""
    path = plan.with_name("world.toml")
    path.write_text(world + SMALL)
    return CliRunner().invoke(
        tether, ["base", str(plan), "--world", str(path), "--frames", "3", *words], env={"COLUMNS": "80"}
    )


def said_headroom(done: Result) -> float:
    """Return the headroom that is said of the base that was found [stops]."""
    said = re.search(r"^Base: .*, with ([0-9.]+) stops of headroom", done.stderr, re.M)
    assert said, done.stderr
    return float(said[1])


def time_s(done: Result) -> float:
    assert done.exit_code == 0, done.output
    label = tomllib.loads(done.stdout)["base"]["time"]
    whole, _, part = label.partition("/")
    return float(whole) / float(part or 1)


@pytest.mark.prove
def test_as_typed_it_says_frame_by_frame_what_it_did_and_gives_a_table(tmp_path: Path, plan: Path) -> None:
    (tmp_path / "world.toml").write_text(SMALL)
    words = ("base", "weir.toml", "--world", "world.toml", "--start", "1/30", "--keep", "frames", "--through-driver")
    done = run_outside(tmp_path, *words, "--frames", "2")
    assert done.returncode == 0, done.stderr
    assert "SIMULATED" in done.stderr
    lines = [line for line in done.stderr.splitlines() if line.startswith("1/")]
    assert len(lines) == 7, "three that come near it, two equal ones that show where the sensor clips, and two spread"
    assert lines[0].startswith("1/30 s, f/8, ISO 100: ")
    assert "clipped" in lines[0]
    assert "stops of headroom" in lines[-1]
    assert "--write" in done.stderr
    assert set(tomllib.loads(done.stdout)["base"]) == {"time", "aperture", "iso", "measured", "headroom_stops"}
    assert "simulated" in done.stdout
    assert plan.read_text() == PLAN
    assert len(list((tmp_path / "frames").iterdir())) == 7


@pytest.mark.usefixtures("stepped")
def test_every_start_leads_to_the_same_base(plan: Path) -> None:
    found = {start: base(plan, "--start", start) for start in ("1/125", "1", "1/8000")}
    times_s = {start: time_s(done) for start, done in found.items()}
    assert len(set(times_s.values())) == 1
    assert "1 s, f/8, ISO 100: all white." in found["1"].stderr


@pytest.mark.usefixtures("stepped")
def test_as_json_it_tells_the_same_and_what_every_frame_showed(plan: Path) -> None:
    table, done = base(plan, "--start", "1"), base(plan, "--start", "1", "--json")
    told = valid("base", done.stdout)
    assert told["base"]["time_s"] == pytest.approx(time_s(table), rel=0.03), "a label is near the exact value"
    assert told["base"]["time_label"] == tomllib.loads(table.stdout)["base"]["time"]
    assert told["headroom_stops"] == pytest.approx(said_headroom(done), abs=0.005)
    assert told["frames"][0]["headroom_stops"] is None, "the first one is all white"
    assert (told["simulated"], told["written"]) == (True, False)


@pytest.mark.usefixtures("stepped")
def test_from_black_it_goes_up(plan: Path) -> None:
    done = base(plan, "--start", "1/8000", world="base_level_stops = -11\n")
    assert "1/8000 s, f/8, ISO 100: black." in done.stderr
    assert 1 < time_s(done) < 30


@pytest.mark.usefixtures("stepped")
def test_more_headroom_is_left_where_it_is_wanted(plan: Path) -> None:
    less, more = time_s(base(plan, "--headroom", "0.3")), time_s(base(plan, "--headroom", "1.3"))
    assert log2(less / more) == pytest.approx(1, abs=0.1)


@pytest.mark.usefixtures("stepped")
def test_a_world_that_says_how_it_is_lit_is_lit_so(plan: Path) -> None:
    lit = time_s(base(plan, world="base = { time_s = 0.5, aperture = 8, iso = 100 }\n"))
    assert log2(lit / time_s(base(plan))) == pytest.approx(6, abs=0.4)


@pytest.mark.usefixtures("stepped")
def test_write_puts_it_into_the_plan_and_leaves_all_else(plan: Path) -> None:
    done = base(plan, "--start", "1/30", "--write")
    label = tomllib.loads(done.stdout)["base"]["time"]
    before, after = PLAN.splitlines(), plan.read_text().splitlines()
    assert after == [
        *before[:11],
        before[11].replace('"1/125"', f'"{label}"').replace(" " * 13, after[11].split('"')[2].partition("#")[0]),
        *before[12:14],
        "measured = true",
        f"headroom_stops = {said_headroom(done):g}",
        *before[14:],
    ]
    assert "# a guess" in after[11]
    assert read_plan(plan).base.measured
    assert WANTED_STOPS <= said_headroom(done) < 1, "the nearest third that leaves what is wanted"
    again = base(plan, "--write", world="base = { time_s = 0.0078125, aperture = 8, iso = 100 }\n")
    assert again.exit_code == 0
    assert [line for line in plan.read_text().splitlines() if "headroom" not in line] == [
        line for line in after if "headroom" not in line
    ]
    assert read_plan(plan).base.headroom_stops == said_headroom(again)


@pytest.mark.usefixtures("stepped")
@pytest.mark.parametrize("leave_set", [False, True])
def test_the_camera_is_put_back_or_left_set_to_the_base(
    plan: Path, monkeypatch: pytest.MonkeyPatch, *, leave_set: bool
) -> None:
    times: list[str] = []
    leave = LocalCamera.leave

    def look_and_leave(camera: LocalCamera) -> None:
        times.append(camera.read_back().settings.time)
        leave(camera)

    monkeypatch.setattr(LocalCamera, "leave", look_and_leave)
    done = base(plan, "--start", "1", *(["--leave-set"] if leave_set else []))
    assert (times == [tomllib.loads(done.stdout)["base"]["time"]]) == leave_set


@pytest.mark.usefixtures("stepped")
def test_where_the_times_end_iso_goes_on_within_the_limits(plan: Path) -> None:
    plan.write_text(PLAN + '[limits]\nlongest = "1/125"\niso = [100, 800]\n')
    table = tomllib.loads(base(plan, world="base_level_stops = -6\n").stdout)["base"]
    assert table["time"] == "1/125"
    assert 200 <= table["iso"] <= 800
    plan.write_text(PLAN + '[limits]\nlongest = "1/125"\niso = [100, 125]\n')
    error = base(plan, world="base_level_stops = -6\n").exception
    assert isinstance(error, CameraError)
    assert "1/125 s, f/8, ISO 125 is the brightest exposure that the plan allows, and" in str(error)
    assert "stops too dark" in str(error)


@pytest.mark.usefixtures("stepped")
@pytest.mark.parametrize(
    ("world", "sentence", "code"),
    [
        ("base = { time_s = 0.0000005, aperture = 8, iso = 100 }\n", "1/8000 s, f/8, ISO 100 is the darkest", 3),
        ("base = { time_s = 0.00006, aperture = 8, iso = 100 }\n", "stops too bright", 3),
        ("base_level_stops = -14\nbase = { time_s = 30000, aperture = 8, iso = 100 }\n", "the cap is off", 3),
        ('faults = [{ what = "truncates", at_frame = 2, times = "always" }]\n', "The frame of 1/", 3),
        ('faults = [{ what = "takes another", setting = "time", at_frame = 1 }]\n', "does not take what was asked", 3),
    ],
    ids=["white", "too bright", "black", "cut short", "another value"],
)
def test_what_can_not_be_is_said_with_what_to_do(plan: Path, world: str, sentence: str, code: int) -> None:
    done = base(plan, "--write", world=world)
    assert isinstance(done.exception, CameraError)
    assert done.exception.exit_code == code
    assert sentence in str(done.exception)
    assert done.stdout == ""
    assert plan.read_text() == PLAN


@pytest.mark.parametrize(
    ("words", "sentence"),
    [(("--start", "soon"), "--start: “soon”"), (("--simulated", "--write"), "--write: weir.toml is for a camera")],
)
def test_a_command_that_makes_no_sense_is_refused_before_anything_is_exposed(
    plan: Path, words: tuple[str, ...], sentence: str
) -> None:
    plan.write_text(PLAN.replace('"simulated"', '"canon-eos"'))
    done = CliRunner().invoke(tether, ["base", plan.name, *words], env={"COLUMNS": "80"})
    assert isinstance(done.exception, PlanError)
    assert sentence in str(done.exception)


def test_without_a_camera_it_says_what_to_look_at(tmp_path: Path, plan: Path) -> None:
    plan.write_text(PLAN.replace('"simulated"', '"canon-eos"'))
    done = run_outside(tmp_path, "base", plan.name, "--port", "usb:000,000")
    assert done.returncode == 3
    assert "No camera is found" in done.stderr
    assert done.stdout == ""


@pytest.mark.usefixtures("stepped")
def test_a_sensor_that_clips_under_its_tag_is_told_and_the_base_keeps_below_it(plan: Path) -> None:
    """A clip 12 % under the tag takes log2(0.88) = 0.18 stop from the headroom."""
    as_told = base(plan, "--headroom", "0.3")
    world = SMALL.replace("window_px = [240, 160]", "window_px = [240, 160], clips = { under = [0.12, 0.12, 0.12] }")
    path = plan.with_name("world.toml")
    path.write_text(world)
    done = CliRunner().invoke(tether, ["base", str(plan), "--world", str(path)], env={"COLUMNS": "80"})
    assert "red 12 %, green 12 %, blue 12 % (two equal frames show it)" in done.stderr
    room = {which: said_headroom(one) + log2(time_s(one)) for which, one in (("told", as_told), ("low", done))}
    assert room["told"] - room["low"] == pytest.approx(0.18, abs=0.04)


@pytest.mark.usefixtures("stepped")
def test_headroom_is_proven_at_the_fastest_rungs_time_too(plan: Path) -> None:
    plan.write_text(PLAN.replace('times = ["1/125"]', 'times = ["1/1000"]'))
    done = base(plan)
    assert re.search(r"^1/1000 s, f/[0-9.]+, ISO [0-9]+: .* stops of headroom", done.stderr, re.M), done.stderr
    # The same light, by f-number and ISO instead of time.
    assert time_s(done) == pytest.approx(1 / 100, rel=0.3)


@pytest.mark.usefixtures("stepped")
def test_waves_are_watched_for_as_long_as_is_asked(plan: Path) -> None:
    done = base(plan, "--span", "60")
    assert done.stderr.count("stops of headroom.") >= 8 + 1
    assert "7 more frames follow within 60 s, as the water wanders." in done.stderr


@pytest.mark.usefixtures("stepped")
def test_stuck_pixels_do_not_eat_headroom(plan: Path) -> None:
    clean = base(plan)
    path = plan.with_name("world.toml")
    path.write_text(SMALL.replace("window_px = [240, 160]", "window_px = [240, 160], stuck_share = 0.002"))
    stuck = CliRunner().invoke(tether, ["base", str(plan), "--world", str(path)], env={"COLUMNS": "80"})
    room = [said_headroom(one) + log2(time_s(one)) for one in (clean, stuck)]
    assert room[0] == pytest.approx(room[1], abs=0.05)
