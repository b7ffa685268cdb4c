"""The command line as typed: data on standard output, talk on standard error, exit codes, no traceback."""

from __future__ import annotations

import csv
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from tests.command.test_watching import PLAN
from tests.plan.test_file import TEN_MISTAKES
from tether.body.protocol import Fitted
from tether.body.simulated.world import World
from tether.command.commands import tether
from tether.errors import PlanError, TetherError
from tether.plan.file import read_plan

SMALL_WORLD = "[sensor]\nwindow_px = [240, 160]\n"
FILTERS = ("--filter", "Calder 6=6", "--filter", "Calder 10=10")


def run(*words: str) -> Result:
    """Run a command in this process; errors of the product come out as the exception they are."""
    return CliRunner().invoke(tether, list(words), env={"COLUMNS": "100"})


def run_outside(folder: Path, *words: str, said: str = "") -> subprocess.CompletedProcess[str]:
    """Run a command in a process of its own."""
    command = [sys.executable, "-m", "tether.command", *words]
    return subprocess.run(command, cwd=folder, input=said, capture_output=True, text=True, timeout=150, check=False)


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "weir.toml"
    made = run("new", str(path), *FILTERS)
    assert made.exit_code == 0, made.output
    return path


@pytest.fixture
def world(tmp_path: Path) -> Path:
    path = tmp_path / "world.toml"
    path.write_text(SMALL_WORLD)
    return path


@pytest.fixture(scope="module")
def outing(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An outing of the same plan that is only read."""
    folder = tmp_path_factory.mktemp("outing")
    (folder / "world.toml").write_text(SMALL_WORLD)
    assert run("new", str(folder / "weir.toml"), *FILTERS).exit_code == 0
    words = ("weir.toml", "--pace", "max", "--outing", "evening", "--world", "world.toml")
    done = run_outside(folder, "rehearse", *words)
    assert done.returncode == 0, done.stderr
    return folder / "evening"


def test_new_writes_a_plan_that_can_be_read_and_leaves_a_file_that_is_there(tmp_path: Path, plan: Path) -> None:
    text = plan.read_text()
    assert 'name = "Calder 6"' in text
    again = run("new", str(plan))
    assert isinstance(again.exception, TetherError)
    assert plan.read_text() == text


def test_new_like_an_earlier_outing_takes_its_plan_with_its_filters_as_their_frames_told(
    tmp_path: Path, plan: Path, outing: Path
) -> None:
    """Nothing else in the plan is another; each filter is as strong as the simulated world has it, to 0.1 stop."""
    copy = tmp_path / "copy.toml"
    done = run("new", str(copy), "--like", str(outing))
    assert done.exit_code == 0
    lines = copy.read_text().splitlines()
    put_in = [line for line in lines if line.startswith(("measured_stops", "uncertainty_stops"))]
    assert [line for line in lines if line not in put_in] == plan.read_text().splitlines()
    assert [line.startswith("measured_stops") for line in put_in] == [True, False, True, False]
    assert put_in[0].endswith(", in evening")
    assert "Calder 6: taken as measured, " in done.stderr
    for one in read_plan(copy).filters:
        _, green_stops, _ = World().filter_stops(Fitted(name=one.name, stops=one.nominal_stops))
        assert one.stops == pytest.approx(green_stops, abs=0.1)


@pytest.mark.parametrize(
    ("option", "value", "words"),
    [
        ("--filter", "Calder", "such as"),
        ("--time", "soon", "--time soon: “soon” cannot be read"),
        ("--longest", "1/8000", "longer"),
    ],
)
def test_new_refuses_what_makes_no_plan(tmp_path: Path, option: str, value: str, words: str) -> None:
    path = tmp_path / "bad.toml"
    made = run_outside(tmp_path, "new", str(path), option, value)
    assert made.returncode == 2
    assert words in made.stderr
    assert "Traceback" not in made.stderr
    assert not path.exists()


def test_ladder_shows_reasons_and_other_ways(plan: Path) -> None:
    shown = run("ladder", str(plan), "--why", "--others", "1")
    assert shown.exit_code == 0
    for words in ("SIMULATED", "Why", "Other ways", "Turns", "fit Calder 6", "Take care", "Forecast"):
        assert words.lower() in shown.output.lower()


def test_ladder_json_is_nothing_but_json(plan: Path) -> None:
    shown = run("ladder", str(plan), "--json")
    assert json.loads(shown.stdout)["schema"] == "tether-ladder/1"
    assert shown.stderr == ""


def test_a_changed_limit_changes_the_ladder(plan: Path) -> None:
    before = json.loads(run("ladder", str(plan), "--json").stdout)
    plan.write_text(plan.read_text().replace("# iso = [100, 400]", "iso = [100, 100]"))
    after = json.loads(run("ladder", str(plan), "--json").stdout)
    assert {rung["iso"] for rung in after["rungs"]} == {100.0}
    assert {rung["iso"] for rung in before["rungs"]} != {100.0}


def test_ladder_draws_a_picture(tmp_path: Path, plan: Path) -> None:
    picture = tmp_path / "ladder.svg"
    assert run("ladder", str(plan), "--picture", str(picture)).exit_code == 0
    assert picture.read_text().lstrip().startswith("<")
    assert "<svg" in picture.read_text()


@pytest.mark.prove
def test_a_rehearsal_says_that_it_is_one_and_where_things_are(tmp_path: Path, plan: Path, world: Path) -> None:
    done = run_outside(
        tmp_path, "rehearse", str(plan), "--pace", "max", "--under", str(tmp_path / "all"), "--world", str(world)
    )
    assert done.returncode == 0
    assert "simulated: no camera" in done.stdout
    assert "SIMULATED" in done.stdout
    (folder,) = (tmp_path / "all").iterdir()
    assert folder.name in done.stdout.replace("\n", "")
    assert "Rung 1 of" in done.stderr
    assert "answered for me" in done.stderr


def test_log_and_exports_tell_the_same(tmp_path: Path, outing: Path) -> None:
    told = json.loads(run("log", str(outing), "--json").stdout)
    frames = told["ladders"][0]["frames"]
    shown = run("log", str(outing))
    assert "SIMULATED" in shown.output
    assert shown.output.count("made") >= len(frames)
    table, whole = tmp_path / "log.csv", tmp_path / "log.json"
    assert run("export", str(outing), "--csv", str(table), "--log", str(whole)).exit_code == 0
    assert json.loads(whole.read_text()) == told
    with table.open(newline="") as file:
        assert len(list(csv.DictReader(file))) == len(frames)


def test_exports_go_to_standard_output_as_to_a_file(tmp_path: Path, outing: Path) -> None:
    table, whole = tmp_path / "log.csv", tmp_path / "log.json"
    assert run("export", str(outing), "--csv", str(table), "--log", str(whole)).exit_code == 0
    assert run("export", str(outing), "--csv", "-").stdout_bytes == table.read_bytes()
    assert run("export", str(outing), "--log", "-").stdout_bytes == whole.read_bytes()
    both = run("export", str(outing), "--csv", "-", "--log", "-")
    assert isinstance(both.exception, PlanError)
    assert both.stdout_bytes == b""
    assert not (tmp_path / "-").exists()


def test_sidecars_are_written_and_what_is_missing_is_an_exit_code(tmp_path: Path, outing: Path) -> None:
    evening = tmp_path / "evening"
    shutil.copytree(outing, evening)
    raws = sorted((evening / "frames").iterdir())
    written = run("export", str(evening), "--xmp")
    assert (written.exit_code, written.stdout) == (0, "")
    assert written.stderr == f"{len(raws)} sidecars are beside the raw files: {len(raws)} new.\n"
    assert all(raw.with_suffix(".xmp").read_bytes().startswith(b"<?xpacket") for raw in raws)
    raws[0].unlink()
    missing = run("export", str(evening), "--xmp")
    assert missing.exit_code == 1
    assert f"{raws[0]} is not there" in missing.stderr


def test_picks_copies_what_was_chosen_and_says_so(tmp_path: Path, outing: Path) -> None:
    evening, to = tmp_path / "evening", tmp_path / "picks"
    shutil.copytree(outing, evening)
    nothing = run("picks", str(evening), "--to", str(to))
    assert nothing.exit_code == 1
    assert "No frame was chosen, so nothing is copied." in nothing.stderr
    (evening / "choices.toml").write_text('[frame.3]\nchoice = "keep"\n[frame.4]\nchoice = "maybe"\n')
    assert run("picks", str(evening), "--to", str(to)).exit_code == 0
    done = run("picks", str(evening), "--to", str(to), "--maybe")
    assert (done.exit_code, done.stdout) == (0, "")
    copied = "1 copied or brought up to date, 1 there before"
    assert done.stderr == f"2 chosen frames are in {to}, each with its sidecar: {copied}.\n"
    assert sorted(path.suffix for path in to.iterdir()) == [".dng", ".dng", ".xmp", ".xmp"]


def test_layers_writes_three_files_and_says_how_they_match(tmp_path: Path, outing: Path) -> None:
    to = tmp_path / "layers"
    none = run("layers", str(outing), "--water", "99", "--rest", "1", "--to", str(to))
    assert isinstance(none.exception, PlanError)
    assert "Frame 99: no file of such a frame is in this outing." in str(none.exception)
    assert not to.exists()
    done = run("layers", str(outing), "--water", "2", "--rest", "1", "--to", str(to))
    assert (done.exit_code, done.stdout) == (0, "")
    assert [line.split()[-1] for line in done.stderr.splitlines()[-3:]] == ["written."] * 3
    assert sorted(path.name for path in to.iterdir()) == [
        f"{outing.name}_{what}.tif" for what in ("mask-2-1", "rest-1", "water-2")
    ]


def test_sheet_makes_a_picture(tmp_path: Path, outing: Path) -> None:
    picture = tmp_path / "sheet.jpg"
    assert run("sheet", str(outing), "--to", str(picture), "--rungs", "1,3").exit_code == 0
    assert picture.read_bytes()[:3] == b"\xff\xd8\xff"


@pytest.mark.parametrize(
    ("words", "sentence", "code"),
    [
        (["ladder", "none.toml"], "cannot be read", 2),
        (["log", "nowhere"], "nowhere", 2),
        (["export", "nowhere"], "say what to write", 2),
        (["rehearse", "none.toml", "--pace", "fast"], '--pace "fast"', 2),
        (["rehearse", "none.toml"], "cannot be read", 2),
        (["sheet", "nowhere"], "nowhere", 2),
        (["dance"], "No such command", 2),
        (["ladder"], "Missing argument", 2),
    ],
)
def test_bad_input_gives_a_sentence_and_an_exit_code(
    tmp_path: Path, words: list[str], sentence: str, code: int
) -> None:
    done = run_outside(tmp_path, *words)
    assert done.returncode == code
    assert sentence in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


def test_ten_mistakes_give_ten_sentences_and_exit_code_two(tmp_path: Path) -> None:
    (tmp_path / "ten.toml").write_text(TEN_MISTAKES)
    done = run_outside(tmp_path, "ladder", "ten.toml")
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 10
    assert "Traceback" not in done.stderr


def test_a_world_with_mistakes_is_told(tmp_path: Path, plan: Path) -> None:
    (tmp_path / "world.toml").write_text("stops_per_minut = 0.2\n")
    done = run_outside(tmp_path, "rehearse", str(plan), "--pace", "max", "--world", "world.toml")
    assert done.returncode == 2
    assert "stops_per_minute" in done.stderr


@pytest.mark.prove
def test_verbs_written_out_steer_where_there_is_no_terminal(tmp_path: Path, world: Path) -> None:
    (tmp_path / "keys.toml").write_text(PLAN)
    done = run_outside(
        tmp_path,
        *("rehearse", "keys.toml", "--pace", "200", "--outing", "here", "--world", str(world)),
        said="answer ahead\nfly\n",
    )
    assert done.returncode == 0, done.stderr
    assert '"fly" is not known here' in done.stderr
    assert "answered beforehand" in done.stderr
