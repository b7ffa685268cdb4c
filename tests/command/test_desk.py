"""`tether desk`: which outing is meant, what it loads, and what is said where it cannot be opened."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.command.terminal import PATIENCE_S, Terminal
from tests.command.test_watching import folder, log, tether
from tests.journal.outings import weir, write_outing
from tether.command.desk import last_outing
from tether.control.registry import running
from tether.desk.turn_screen import DEAF_S
from tether.report.choices import read_choices

__all__ = ["folder"]


def test_without_a_terminal_it_says_what_to_use() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tether.command", "desk"], input="", capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert "tether watch" in done.stderr


def test_the_command_line_does_not_load_the_library_of_the_desk_nor_its_first_screen_what_takes_a_while() -> None:
    script = (
        "import sys; from click.testing import CliRunner; from tether.command.commands import tether;"
        "print(CliRunner().invoke(tether, ['--help']).output); print('textual' in sys.modules);"
        "import tether.command.desk, tether.desk.app, tether.desk.body_screen;"
        "print({'pydantic', 'numpy', 'PIL', 'tether.plan.file', 'tether.desk.frames_screen'} & set(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert "desk" in done.stdout
    assert done.stdout.rstrip().endswith("False\nset()")


def test_the_last_outing_is_the_one_written_last(tmp_path: Path) -> None:
    assert last_outing(tmp_path) is None
    for number, name in enumerate(("b", "a", "c")):
        write_outing(tmp_path / name, weir())
        os.utime(tmp_path / name / "journal.sqlite", (number, number if name != "a" else 100))
    assert last_outing(tmp_path) == tmp_path / "a"


@pytest.mark.prove
def test_an_evening_at_the_desk_in_a_real_terminal_which_is_lost_and_come_back_to(folder: Path) -> None:
    """The run is started and left; the desk is hung up in mid-hold, as when a connection drops, and opened again."""
    assert (
        tether(
            folder, "rehearse", "keys.toml", "--pace", "20", "--outing", "here", "--world", "world.toml", "--detach"
        ).returncode
        == 0
    )
    with Terminal(folder, "desk", "here") as desk:
        desk.wait_for("is made with Calder 15")
        assert tether(folder, "say", "answer", "--outing", "here").returncode == 0
        desk.wait_for("longer")
        desk.hang_up()
    with Terminal(folder, "desk", "here") as again:
        again.wait_for("OPEN: frame 2")
        again.press("c")
        again.wait_for("The ladder has ended")
        again.press("\x11")
        assert again.end() == 0
    last = log(folder)["frames"][-1]
    assert last["outcome"] == "closed early"
    assert last["files"]


@pytest.mark.prove
def test_a_whole_evening_at_the_desk_from_the_checks_to_choosing_with_the_run_process_killed(folder: Path) -> None:
    """In a real terminal, with the real processes: looked at, a frame for the base, edited, begun, lost, chosen."""
    words = ("desk", "keys.toml", "--pace", "20", "--world", "world.toml", "--under", "outings")
    with Terminal(folder, *words) as desk:
        desk.wait_for(" fine")
        desk.press("2")
        desk.wait_for("take a frame")
        desk.press("e")
        desk.wait_for("stops below clipping")
        desk.press("3")
        desk.wait_for("many short ones")
        for key in (*("\x1b[B",) * 3, "\r"):  # to its times
            desk.press(key)
        desk.wait_for("take it")
        desk.press("1/125, 5m")  # all of it is marked, so that this takes its place
        desk.press("\r")
        desk.wait_for("not saved")
        desk.press("S")
        desk.wait_for("is written")
        desk.press("B")
        desk.wait_for("it ends at")
        desk.press("\r")
        desk.wait_for("is made with Calder 15")
        (run,) = [one for one in running() if one.outing.parent == folder / "outings"]
        assert tether(folder, "say", "answer", "--outing", str(run.outing)).returncode == 0
        desk.wait_for("OPEN: frame 2")
        os.kill(run.pids["run process"], signal.SIGKILL)
        desk.wait_for("No word from the run")
        desk.wait_for("The ladder has ended")
        desk.press("5")
        desk.wait_for("undecided")
        desk.press("k")
        until_s = time.monotonic() + PATIENCE_S
        while not read_choices(run.outing) and time.monotonic() < until_s:
            time.sleep(0.05)  # leaving goes before all other keys
        desk.press("\x11")
        assert desk.end() == 0
    assert '"5m"' in (folder / "keys.toml").read_text()
    frames = json.loads(tether(folder, "log", str(run.outing), "--json").stdout)["ladders"][-1]["frames"]
    assert [frame["outcome"] for frame in frames][:1] == ["made"]
    assert all(frame["files"] for frame in frames)
    assert [one.verdict for one in read_choices(run.outing).values()] == ["keep"]


@pytest.mark.prove
@pytest.mark.timeout(400)
def test_an_evening_by_keys_with_an_answer_taken_back_a_pause_a_stop_and_a_resume(folder: Path) -> None:
    """Base found, water marked, focus looked at; the filter was not on, and is asked for again; all in one outing."""
    plan = (folder / "keys.toml").read_text().replace('"4m"', '"2m", "3m", "4m"')
    (folder / "keys.toml").write_text(plan)
    words = ("desk", "keys.toml", "--pace", "20", "--world", "world.toml", "--under", "outings")
    with Terminal(folder, *words) as desk:
        desk.wait_for(" fine")
        desk.press("2")
        desk.wait_for("find the base")
        desk.press("f")
        desk.wait_for("end this")
        desk.wait_for("take a frame")
        desk.press("w")
        desk.wait_for("dashes: water: from")
        desk.press("\x1b[C")
        desk.press("\r")
        desk.wait_for("rock: what stands still beside it")
        desk.press("l")
        desk.wait_for("LIVE VIEW, whole")
        desk.press("z")
        desk.wait_for("magnified")
        desk.press("l")
        desk.wait_for("live view")
        desk.press("3")
        desk.wait_for("many short ones")
        desk.press("S")
        desk.wait_for("is written")
        desk.press("B")
        desk.wait_for("it ends at")
        desk.press("\r")
        _do_the_task(desk)
        desk.wait_for("OPEN: frame 2")
        desk.press("u")
        _do_the_task(desk)
        desk.wait_for("OPEN: frame 3")
        desk.press("p")
        desk.wait_for("Still to be done")
        desk.press("c")
        desk.wait_for("Paused; g continues")
        desk.press("g")
        desk.wait_for("OPEN: frame 4")
        desk.press("w")
        desk.wait_for("Stop how?")
        desk.press("\r")
        desk.wait_for("has ended: stopped at once")
        (outing,) = (folder / "outings").iterdir()
        assert tether(folder, "run", str(outing), "--detach").returncode == 0
        desk.wait_for("OPEN: frame 5")
        desk.wait_for("has ended: done")
        desk.press("5")
        desk.wait_for("undecided")
        desk.press("k")
        until_s = time.monotonic() + PATIENCE_S
        while not read_choices(outing) and time.monotonic() < until_s:
            time.sleep(0.05)
        desk.press("\x11")
        assert desk.end() == 0
    (ladder,) = json.loads(tether(folder, "log", str(outing), "--json").stdout)["ladders"]
    made = [(one["rung"], one["outcome"]) for one in ladder["frames"]]
    by_the_person, cut_short = [(2, "closed early")] * 2, [(3, "closed early")]
    assert made == [(1, "made"), *by_the_person, *cut_short, (3, "made"), (4, "made")], (
        "what a stop cut short is made again"
    )
    assert [one.verdict for one in read_choices(outing).values()] == ["keep"]


def _do_the_task(desk: Terminal) -> None:
    """Say that the filter is on, once the question is no longer deaf."""
    desk.wait_for("Space or enter")
    time.sleep(DEAF_S + 0.5)
    desk.press(" ")


def test_as_fast_as_it_goes_is_not_for_the_desk(folder: Path) -> None:
    with Terminal(folder, "desk", "keys.toml", "--pace", "max") as desk:
        desk.wait_for("at the desk, write a number")
        assert desk.end() == 2


def test_what_is_of_a_plan_needs_one(folder: Path) -> None:
    with Terminal(folder, "desk", "--simulated") as desk:
        desk.wait_for("are of a plan")
        assert desk.end() == 2
    (folder / "broken.toml").write_text("title = 1\n")
    with Terminal(folder, "desk", "broken.toml") as desk:
        desk.wait_for("is missing")
        assert desk.end() == 2
