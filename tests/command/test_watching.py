"""Runs that outlive their screen: watched, left, steered from elsewhere, stopped; in real terminals, at a fast pace."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from functools import reduce
from pathlib import Path
from typing import Any

import pytest

from tests.command.terminal import Terminal
from tests.journal.planned import a_ladder
from tests.journal.shown import exposed, readings
from tether.clock import AffineClock
from tether.command.watching import _now
from tether.control.attachment import RunView
from tether.control.registry import running
from tether.journal.records import FrameRead, LadderBegun, Record
from tether.journal.snapshot import Snapshot, after

PLAN = """
title = "Keys"
darker_by = "nothing"
[body]
file = "simulated"
[lens]
focal_mm = 24
widest = "f/2.8"
narrowest = "f/22"
[base]
time = "1/125"
aperture = "f/8"
iso = 100
frames = 0
[rungs]
times = ["1/125", "4m"]
[run]
settle_s = 1
proof = false
dark_frames = "none"
[[filter]]
name = "Calder 15"
stops = 15
measured_stops = 15.0
"""


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[Path]:
    (tmp_path / "keys.toml").write_text(PLAN)
    (tmp_path / "world.toml").write_text("[sensor]\nwindow_px = [240, 160]\n")
    yield tmp_path
    tether(tmp_path, "stop", "here", "--drop")


def start(folder: Path, *more: str) -> Terminal:
    words = ("rehearse", "keys.toml", "--pace", "60", "--outing", "here", "--world", "world.toml")
    return Terminal(folder, *words, *more)


def tether(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "tether.command", *words]
    return subprocess.run(command, cwd=folder, input="", capture_output=True, text=True, timeout=60, check=False)


def log(folder: Path) -> dict[str, Any]:
    told: dict[str, Any] = json.loads(tether(folder, "log", "here", "--json").stdout)["ladders"][-1]
    return told


def test_under_what_is_going_on_stands_what_the_light_has_done_and_how_long_ago_that_was_seen() -> None:
    now = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)
    clock = AffineClock(pace=1e-9, origin_real_ns=time.monotonic_ns(), origin_utc=now)  # it stands still
    told: list[Record] = [
        LadderBegun(planned=a_ladder(rungs=[{"rung": 1}])),
        replace(exposed(5, None, "base"), closed_utc="2026-10-03T16:44:00+00:00"),
    ]
    begun = RunView(clock=clock, snapshot=reduce(after, told, Snapshot()))
    assert _now(begun) == "SIMULATED  ready"
    seen = after(begun.snapshot, FrameRead(frame=5, readings=readings(off_stops=-0.4)))
    under = "Light, measured 16 min ago: -0.40 stop against the base, by frame 5 (no filter)"
    assert _now(replace(begun, snapshot=seen)) == f"SIMULATED  ready\n{under}"
    assert _now(RunView()) == ""


@pytest.mark.prove
def test_a_turn_is_answered_and_an_open_frame_moved_and_closed_by_keys(folder: Path) -> None:
    with start(folder) as terminal:
        terminal.wait_for("YOUR TURN: fit Calder 15")
        terminal.press("?")
        terminal.wait_for("close now and keep the frame")
        terminal.press(" ")
        terminal.wait_for("OPEN  frame 2")
        terminal.press("l")
        terminal.wait_for("closes 66.5 s later")
        terminal.press("c")
        terminal.wait_for("closed early")
        assert terminal.end() == 0
    last = log(folder)["frames"][-1]
    assert last["outcome"] == "closed early"
    assert last["files"]


@pytest.mark.prove
def test_control_c_leaves_and_the_run_goes_on(folder: Path) -> None:
    with start(folder) as terminal:
        terminal.wait_for("YOUR TURN")
        terminal.press(" ")
        terminal.wait_for("OPEN  frame 2")
        terminal.process.send_signal(signal.SIGINT)
        terminal.wait_for("the run continues")
        assert terminal.end() == 0
    with Terminal(folder, "watch", "here") as again:
        again.wait_for("OPEN  frame 2")
        again.wait_for("The ladder has ended: done.")
        assert again.end() == 0
    assert [frame["outcome"] for frame in log(folder)["frames"]] == ["made", "made"]


@pytest.mark.prove
def test_a_terminal_that_is_closed_does_not_touch_the_run(folder: Path) -> None:
    """The pseudo-terminal goes away in mid-hold, as when a connection drops; the face gets SIGHUP, the run nothing."""
    with start(folder) as terminal:
        terminal.wait_for("YOUR TURN")
        terminal.press(" ")
        terminal.wait_for("OPEN  frame 2")
        terminal.hang_up()
    with Terminal(folder, "watch", "here") as again:
        again.wait_for("The ladder has ended: done.")
        assert again.end() == 0
    last = log(folder)["frames"][-1]
    assert last["outcome"] == "made"
    assert last["open_s"]["held"] > 200  # it went on to its planned end, whatever became of the terminal


@pytest.mark.prove
def test_a_terminal_closed_in_mid_hold_at_real_pace_does_not_touch_it(folder: Path) -> None:
    """In real time, with a body whose own times are short, so that a hold of four seconds will do."""
    shipped = (Path(__file__).parents[2] / "profiles" / "bodies" / "simulated.toml").read_text()
    (folder / "short.toml").write_text(shipped.replace('longest = "30"', 'longest = "1/4"'))
    plan = PLAN.replace('["1/125", "4m"]', '["1/125", "4"]').replace("Calder 15", "Calder 9")
    plan = plan.replace("stops = 15", "stops = 9").replace('"simulated"', f'"{folder / "short.toml"}"')
    (folder / "real.toml").write_text(plan)
    with Terminal(folder, "run", "real.toml", "--outing", "here") as terminal:
        terminal.wait_for("YOUR TURN")
        terminal.press(" ")
        terminal.wait_for("OPEN  frame 2")
        terminal.hang_up()
    with Terminal(folder, "watch", "here") as again:
        again.wait_for("The ladder has ended: done.")
        assert again.end() == 0
    last = log(folder)["frames"][-1]
    assert last["outcome"] == "made"
    assert last["read_back"]["time_label"] == "bulb"
    assert last["open_s"]["held"] > 3  # it went on to its planned end, whatever became of the terminal
    truth = (folder / "here" / "simulated-body" / "openings.jsonl").read_text()
    assert truth.count('"closed"') == truth.count('"opened"') == 2


@pytest.mark.prove
def test_two_faces_agree_and_words_can_be_said_from_elsewhere(folder: Path) -> None:
    # Open for long enough that a word comes in time on a machine that is busy.
    (folder / "keys.toml").write_text(PLAN.replace('"4m"', '"16m"'))
    with start(folder) as terminal:
        terminal.wait_for("YOUR TURN")
        with Terminal(folder, "watch", "here") as other:
            other.wait_for("YOUR TURN")
            assert tether(folder, "say", "answer", "--outing", "here").returncode == 0
            terminal.wait_for("OPEN  frame 2")
            other.wait_for("OPEN  frame 2")
            assert tether(folder, "stop", "here", "--now").returncode == 0
            other.wait_for("has ended: stopped at once")
            assert other.end() == 1
        terminal.wait_for("has ended: stopped at once")
        assert terminal.end() == 1
    told = log(folder)
    assert told["outcome"] == "closed and kept"
    assert told["frames"][-1]["outcome"] == "closed early"


@pytest.mark.prove
def test_detached_it_starts_and_leaves(folder: Path) -> None:
    done = tether(
        folder, "rehearse", "keys.toml", "--pace", "200", "--outing", "here", "--world", "world.toml", "--detach"
    )
    assert done.returncode == 0
    assert "continues by itself" in done.stdout
    assert any(one.outing == folder / "here" for one in running())
    second = tether(folder, "rehearse", "keys.toml", "--pace", "200", "--outing", "here", "--world", "world.toml")
    assert second.returncode == 3
    assert "Traceback" not in second.stderr
    assert tether(folder, "stop", "here").returncode == 0


@pytest.mark.prove
def test_a_run_that_was_stopped_is_gone_on_with_by_hand(folder: Path) -> None:
    with start(folder) as terminal:
        terminal.wait_for("YOUR TURN")
        terminal.press("q")
        terminal.wait_for("The ladder has ended: stopped")
        assert terminal.end() == 1
    with Terminal(folder, "run", "here") as again:
        again.wait_for("YOUR TURN")
        again.press(" ")
        again.wait_for("The ladder has ended: done.")
        assert again.end() == 0
    told = log(folder)
    assert told["outcome"] == "done"
    assert [frame["rung"] for frame in told["frames"]] == [1, 2]
    finished = tether(folder, "run", "here")
    assert finished.returncode == 2
    assert "is done" in finished.stderr


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["watch", "nowhere"], "running"),
        (["say", "fly"], '"fly" is not known'),
        (["stop", "nowhere", "--now", "--drop"], "give one of them"),
        (["run", "."], "not an outing"),
    ],
)
def test_what_cannot_be_done_is_a_sentence(folder: Path, words: list[str], sentence: str) -> None:
    done = tether(folder, *words)
    assert done.returncode == 2
    assert sentence in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.prove
def test_a_start_planned_for_later_is_said_and_called_off(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(folder / "state"))
    planned = tether(folder, "run", "keys.toml", "--outing", "here", "--in", "2h")
    assert planned.returncode == 0, planned.stderr
    assert "starts at" in planned.stdout
    assert "tether stop here" in planned.stdout
    off = tether(folder, "stop", "here")
    assert off.returncode == 0
    assert "called off" in off.stderr
    assert tether(folder, "stop", "here").returncode == 2
    bad = tether(folder, "run", "keys.toml", "--at", "25:99")
    assert bad.returncode == 2
    assert "--at 25:99" in bad.stderr


def test_new_asks_at_a_terminal_for_what_was_not_given(folder: Path) -> None:
    with Terminal(folder, "new", "asked.toml", "--title", "Asked", "--iso", "200") as terminal:
        for question, answer in (
            ("Where it is", "51.5,-0.1"),
            ("Body file", ""),
            ("Focal length", "35"),
            ("Its widest aperture", ""),
            ("Its narrowest aperture", ""),
            ("Time of the base exposure", "1/50"),
            ("Its aperture", "back"),
            ("Time of the base exposure", "1/60"),
            ("Its aperture", ""),
            ("Shortest rung", "1/125"),
            ("Longest rung", "2m"),
            ("Filters on hand", "Calder 6=6, Calder 10=10"),
            ("More filters", ""),
            ("Write it", ""),
        ):
            terminal.wait_for(question)
            terminal.press(f"{answer}\n")
        terminal.wait_for("asked.toml is written")
        assert terminal.end() == 0
    text = (folder / "asked.toml").read_text()
    for line in ('title = "Asked"', 'time = "1/60"', 'iso = "200"', "focal_mm = 35", 'to = "2m"', 'name = "Calder 10"'):
        assert line in text
