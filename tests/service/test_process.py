"""The run process: its verdict, and a camera that an earlier process may have left busy."""

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.command.written import written
from tether.clock import SteppedClock, to_s
from tether.errors import BusyError, CameraError, LostError, TetherError
from tether.outing.memory import remembered
from tether.service import process
from tether.service.process import CRASHED, MOST_OPENED, OPENED_AGAIN_S, main


@pytest.fixture(autouse=True)
def _signals() -> Iterator[None]:
    """Put back what signals did: the process takes them for itself."""
    names = (signal.SIGINT, signal.SIGHUP, signal.SIGTERM)
    before = [signal.getsignal(one) for one in names]
    yield
    for one, handler in zip(names, before, strict=True):
        signal.signal(one, handler)


@pytest.mark.parametrize(
    ("error", "code", "said"),
    [
        (CameraError("Its dial is on A."), 3, "Its dial is on A.\n"),
        (LostError("It is gone."), 4, "It is gone.\n"),
        (ValueError("a mistake"), CRASHED, "ValueError: a mistake\n"),
    ],
)
def test_trouble_is_a_sentence_and_a_verdict_and_only_a_mistake_of_the_program_is_none(
    error: Exception, code: int, said: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fails(*_: object) -> int:
        raise error

    monkeypatch.setattr(process, "_do", fails)
    assert main(Path("here"), None) == code
    assert capsys.readouterr().err.endswith(said)


@pytest.mark.parametrize(("error", "code"), [(LostError("It is gone."), 4), (ValueError("a mistake"), CRASHED)])
def test_a_verdict_stands_where_no_word_can_be_left(error: Exception, code: int, tmp_path: Path) -> None:
    """/dev/full answers every write with ENOSPC (Linux, full(4)), as the log does on a disk that is full or gone."""
    fails = f"""
import sys
from pathlib import Path
from tether.errors import LostError
from tether.service import process
def fails(*_): raise {error!r}
process._do = fails
sys.exit(process.main(Path({str(tmp_path)!r}), None))
"""
    with Path("/dev/full").open("w") as full:
        assert subprocess.run([sys.executable, "-c", fails], stderr=full, check=False).returncode == code


def test_an_outing_without_a_job_is_a_verdict(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(tmp_path, None) == 2
    assert "not an outing with a run to resume" in capsys.readouterr().err


def test_an_outing_is_remembered_however_its_run_ends(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    outing = written(tmp_path / "weir")
    assert main(outing, None) == 2, "it has no job"
    assert [one.folder for one in remembered()] == [outing]


@pytest.mark.parametrize(
    ("errors", "waited_s"),
    [
        ([], 0.0),
        ([BusyError("busy")], OPENED_AGAIN_S),
        ([LostError("gone"), BusyError("busy")], 2 * OPENED_AGAIN_S),
    ],
)
def test_a_camera_that_is_busy_or_lost_is_opened_again(errors: list[TetherError], waited_s: float) -> None:
    clock, left = SteppedClock(), list(errors)

    @contextmanager
    def opens() -> Iterator[str]:
        if left:
            raise left.pop(0)
        yield "run"

    with process._opened(opens, clock) as run:  # type: ignore[arg-type]
        assert str(run) == "run"
    assert to_s(clock.now_ns()) == waited_s


@pytest.mark.parametrize(("error", "tries"), [(BusyError("busy"), MOST_OPENED), (CameraError("no"), 1)])
def test_one_that_stays_so_or_refuses_is_not_opened_for_ever(error: TetherError, tries: int) -> None:
    tried: list[int] = []

    def opens() -> Any:
        tried.append(1)
        raise error

    with pytest.raises(type(error)), process._opened(opens, SteppedClock()):
        pass
    assert len(tried) == tries
