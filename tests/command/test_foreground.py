"""The foreground face in a real terminal, on the real camera process, at a fast pace."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.command.terminal import Terminal

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
[rungs]
times = ["1/125", "4m"]
[run]
settle_s = 1
proof = false
[[filter]]
name = "Calder 15"
stops = 15
measured_stops = 15.0
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "keys.toml").write_text(PLAN)
    (tmp_path / "world.toml").write_text("[sensor]\nwindow_px = [240, 160]\n")
    return tmp_path


def start(folder: Path, pace: str = "60") -> Terminal:
    words = ("rehearse", "keys.toml", "--pace", pace, "--outing", "here", "--world", "world.toml")
    return Terminal(folder, *words)


def frames(folder: Path) -> list[dict[str, object]]:
    command = [sys.executable, "-m", "tether.command", "log", "here", "--json"]
    told = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True, timeout=60)
    found: list[dict[str, object]] = json.loads(told.stdout)["ladders"][-1]["frames"]
    return found


def test_a_turn_is_answered_and_an_open_frame_closed_by_keys(folder: Path) -> None:
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
    last = frames(folder)[-1]
    assert last["outcome"] == "closed early"
    assert last["files"]


def test_control_c_once_stops_after_the_frame_in_hand(folder: Path) -> None:
    with start(folder) as terminal:
        terminal.wait_for("YOUR TURN")
        terminal.press(" ")
        terminal.wait_for("OPEN  frame 2")
        terminal.process.send_signal(signal.SIGINT)
        terminal.wait_for("stops once this frame is over")
        assert terminal.end() == 1
    assert frames(folder)[-1]["outcome"] == "made"


def test_control_c_twice_closes_and_keeps(folder: Path) -> None:
    with start(folder) as terminal:
        terminal.wait_for("YOUR TURN")
        terminal.press(" ")
        terminal.wait_for("OPEN  frame 2")
        terminal.process.send_signal(signal.SIGINT)
        terminal.wait_for("stops once this frame is over")
        terminal.process.send_signal(signal.SIGINT)
        terminal.wait_for("closed early")
        assert terminal.end() == 1
    last = frames(folder)[-1]
    assert last["outcome"] == "closed early"
    assert last["files"]
