"""The guard: starts again what died or fell silent, a bounded number of times, then hands over to a person."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tether import guard


@pytest.fixture
def pauses(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Keep the guard from really waiting, and from changing how this process takes signals."""
    waited: list[float] = []
    monkeypatch.setattr("tether.guard.time.sleep", waited.append)
    monkeypatch.setattr("tether.guard.signal.signal", lambda *_: signal.SIG_DFL)
    return waited


def ends(monkeypatch: pytest.MonkeyPatch, codes: list[int]) -> list[int]:
    """Let the run process end with these codes, one after the other; returns what is left of them."""
    monkeypatch.setattr(guard, "_run_once", lambda *_: codes.pop(0))
    return codes


@pytest.mark.parametrize("code", list(guard.VERDICTS))
def test_a_verdict_is_final(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, pauses: list[float], code: int) -> None:
    left = ends(monkeypatch, [code, 0])
    assert guard.main(tmp_path) == code
    assert left == [0]
    assert pauses == []


def test_what_dies_is_started_again_after_longer_and_longer_pauses(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, pauses: list[float]
) -> None:
    ends(monkeypatch, [-signal.SIGKILL, 70, -signal.SIGSEGV, 0])
    assert guard.main(tmp_path) == 0
    assert pauses == [0.5, 1.0, 2.0]


def test_after_enough_tries_it_hands_over_to_a_person(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, pauses: list[float], capsys: pytest.CaptureFixture[str]
) -> None:
    ends(monkeypatch, [70] * guard.MOST_TRIES)
    assert guard.main(tmp_path) == 4
    assert len(pauses) == guard.MOST_TRIES - 1
    sentence = (tmp_path / guard.HANDED_OVER_NAME).read_text()
    assert f"tether run {tmp_path}" in sentence
    assert "code 70" in sentence
    assert sentence in capsys.readouterr().err


def test_a_run_that_lasted_has_its_tries_counted_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, pauses: list[float]
) -> None:
    now_s = iter(range(0, 10**9, round(guard.LASTED_S) + 1))
    monkeypatch.setattr("tether.guard.time.monotonic", lambda: float(next(now_s)))
    ends(monkeypatch, [70] * (guard.MOST_TRIES + 3) + [0])
    assert guard.main(tmp_path) == 0
    assert pauses == [0.5] * (guard.MOST_TRIES + 3)


def test_a_shutter_is_seen_to_before_anything_is_started_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, pauses: list[float]
) -> None:
    order: list[str] = []

    def run_once(*_: object) -> int:
        order.append("run")
        return 0 if "close camera" in order else 70

    def closing(folder: str, _outing: Path) -> Ended:
        order.append(f"close {Path(folder).name}")
        return Ended()

    monkeypatch.setattr(guard, "_run_once", run_once)
    monkeypatch.setattr(guard, "_closing", closing)
    for name, stamps in (("camera", '{"way": "held", "shut": false}'), ("simulated-body", " " * 1024)):
        (tmp_path / name).mkdir()
        (tmp_path / name / guard.START_NAME).write_text("{}")
        (tmp_path / name / guard.STAMPS_NAME).write_text(stamps)
    assert guard.main(tmp_path) == 0
    assert order == ["run", "close camera", "run"]


def test_a_guard_whose_disk_is_gone_goes_on_and_hands_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, pauses: list[float], capsys: pytest.CaptureFixture[str]
) -> None:
    """What it would write is lost; that it tries again, and its exit code, are not."""
    outing = tmp_path / "outing"
    outing.mkdir()
    tries: list[Path] = []

    def run_once(folder: Path, _silent_s: float) -> int:
        tries.append(folder)
        for name in (guard.LOG_NAME, guard.HANDED_OVER_NAME):
            (outing / name).mkdir(exist_ok=True)
        with guard._log_of(folder) as log:
            assert log.name == os.devnull
        return 70

    monkeypatch.setattr(guard, "_run_once", run_once)
    assert guard.main(outing) == 4
    assert len(tries) == guard.MOST_TRIES
    assert f"tether run {outing}" in capsys.readouterr().err


class Ended:
    """A process that has ended."""

    def wait(self, _timeout: float) -> int:
        return 0


@pytest.mark.parametrize(
    ("stamps", "may_be_open"),
    [
        ('{"way": "held", "shut": false}', True),
        ('{"way": "held", "shut": true}', False),
        ('{"way": "timed", "shut": false}', False),
        ("[]", False),
        ("{", False),
        (None, False),
    ],
)
def test_stamps_tell_whether_a_shutter_may_be_open(tmp_path: Path, stamps: str | None, may_be_open: bool) -> None:
    if stamps is not None:
        (tmp_path / guard.STAMPS_NAME).write_text(stamps)
    assert guard._may_be_open(tmp_path) is may_be_open


def test_an_outing_has_one_guard(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, pauses: list[float], capsys: pytest.CaptureFixture[str]
) -> None:
    with guard._only_guard(tmp_path) as only:
        assert only
        assert guard.main(tmp_path) == 2
    assert "guarded already" in capsys.readouterr().err
    ends(monkeypatch, [0])
    assert guard.main(tmp_path) == 0


@pytest.fixture
def mute() -> Iterator[tuple[int, subprocess.Popen[bytes]]]:
    """A process that keeps its end of the pipe open and says nothing."""
    hears, speaks = os.pipe()
    process = subprocess.Popen(
        [sys.executable, "-c", "import signal; signal.pause()"], pass_fds=(speaks,), stdout=subprocess.DEVNULL
    )
    os.close(speaks)
    yield hears, process
    os.close(hears)
    process.kill()
    process.wait()


def test_a_process_that_shows_no_life_is_ended(mute: tuple[int, subprocess.Popen[bytes]]) -> None:
    hears, process = mute
    guard._listen(hears, process, silent_s=0.1)
    assert process.wait(timeout=30) == -signal.SIGKILL


def test_it_loads_nothing_but_the_standard_library() -> None:
    code = "import sys, tether.guard; print('\\n'.join(sys.modules))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    ours = {name for name in loaded if name.split(".")[0] == "tether"}
    assert ours == {"tether", "tether.guard"}
    others = {name.split(".")[0] for name in loaded} - set(sys.stdlib_module_names) - {"tether"}
    assert {name for name in others if not name.startswith("_")} <= {"sitecustomize", "usercustomize"}
