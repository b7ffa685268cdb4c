"""The closing-only camera process: what a run process and a camera process that were both killed left open is shut."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.body.choices import choice, really
from tether import guard
from tether.body import stamps
from tether.body.closing import main
from tether.body.process import STAMPS_NAME, START_NAME
from tether.body.protocol import Order
from tether.body.wire import pack
from tether.clock import AffineClock

PACE = 1000.0
#: A long hold, and how late a loaded machine may be with a close, on the paced clock [s].
LONG_S, LATE_S = 3000.0, 2000.0


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "body"


@pytest.fixture
def signals(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave how this process takes signals as it is."""
    monkeypatch.setattr("tether.body.closing.signal.signal", lambda *_: signal.SIG_DFL)


def killed_in_a_hold(folder: Path, open_s: float) -> None:
    """Begin a hold, and kill the run process and its camera process."""
    with subprocess.Popen(
        [sys.executable, "-m", "tests.body.run_process", str(folder), str(PACE), str(open_s)], stdout=subprocess.PIPE
    ) as run:
        assert run.stdout is not None
        camera_process = int(run.stdout.readline())
        run.kill()
        os.kill(camera_process, signal.SIGKILL)


def test_what_both_left_open_is_shut_at_the_planned_moment(folder: Path, signals: None) -> None:
    killed_in_a_hold(folder, LONG_S)
    assert guard._may_be_open(folder)
    assert really(folder, "closed") == []
    assert main(folder) == 0
    (closed,) = really(folder, "closed")
    assert closed["ended_by"] == "command"
    assert LONG_S <= closed["open_s"] <= LONG_S + LATE_S
    known = stamps.read(folder / STAMPS_NAME)
    assert known is not None
    assert (known.frame, known.shut, known.closed_by) == (5, True, "lost")
    opening = known.opening(0)
    assert opening.close_called_ns == opening.open_called_ns, "until when it was surely open is not known"
    assert opening.close_returned_ns - opening.open_called_ns >= LONG_S * 1e9
    assert not guard._may_be_open(folder)


def test_the_guard_gives_what_it_starts_time_to_close_before_all_else(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(guard, "HEAD_START_S", 60.0)  # on a machine that is busy it takes longer to come up
    killed_in_a_hold(folder, 1000.0)
    guard._close_left_open(folder.parent)
    assert len(really(folder, "closed")) == 1, (folder.parent / guard.LOG_NAME).read_text()


def test_what_is_shut_meanwhile_is_left_alone(folder: Path, signals: None) -> None:
    folder.mkdir()
    clock = AffineClock.started_now(PACE)
    (folder / START_NAME).write_text(json.dumps({"choice": pack(choice(folder)), "clock": pack(clock)}))
    stamps.make_file(folder / STAMPS_NAME)
    assert main(folder) == 0
    assert not (folder / "state.json").exists(), "the body was opened"


def test_a_body_that_cannot_be_opened_is_tried_again_and_given_up_in_sentences(
    folder: Path, signals: None, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    paused: list[float] = []
    monkeypatch.setattr("tether.body.closing.time.sleep", paused.append)
    folder.mkdir()
    clock = AffineClock.started_now(PACE)
    (folder / START_NAME).write_text(json.dumps({"choice": pack(choice(folder)), "clock": pack(clock)}))
    stamps.make_file(folder / STAMPS_NAME)
    stamps.write(folder / STAMPS_NAME, stamps.Stamps.begun(Order(frame=1, way="held", command_s=1.0), clock))
    (folder / "state.json").write_text("{}")
    assert main(folder) == 1
    assert len(paused) == 10
    said = capsys.readouterr().err.splitlines()
    assert len(said) == 10
    assert said[0].startswith("A shutter that may be open could not be closed: ")


def test_the_guard_knows_its_files_by_their_names() -> None:
    assert (guard.START_NAME, guard.STAMPS_NAME) == (START_NAME, STAMPS_NAME)
