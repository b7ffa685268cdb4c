"""What runs on this machine is found by its folder, its name or its title; what cannot be trusted is not used."""

from __future__ import annotations

import os
import pwd
import socket
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from tether.control import registry as running_module
from tether.control.registry import LONGEST_PATH, Running, announce, answers, find, own_folder, running, withdraw
from tether.errors import PlanError


@pytest.fixture(autouse=True)
def runtime(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A runtime folder of this test's own, with as short a path as those of the system have."""
    with tempfile.TemporaryDirectory(prefix="t") as folder:
        monkeypatch.setenv("XDG_RUNTIME_DIR", folder)
        yield Path(folder)


@pytest.fixture
def stack() -> Iterator[ExitStack]:
    with ExitStack() as stack:
        yield stack


def started(stack: ExitStack, outing: Path, title: str) -> Path:
    """Announce a run and have something listen at its socket until the test is over."""
    path = announce(outing, title, {"run": 41, "guard": 40})
    listening = stack.enter_context(socket.socket(socket.AF_UNIX))
    listening.bind(str(path))
    listening.listen()
    return path


def test_a_run_is_found_by_folder_name_and_title(stack: ExitStack, tmp_path: Path) -> None:
    outing = tmp_path / "outings" / "2026-10-03 Weir"
    path = started(stack, outing, "Weir at dusk")
    run = Running(outing=outing.resolve(), title="Weir at dusk", pids={"run": 41, "guard": 40}, socket=path)
    assert running() == (run,)
    for name in (None, outing, str(outing), "2026-10-03 Weir", "Weir at dusk"):
        assert find(name) == run


def test_none_runs_is_a_sentence() -> None:
    assert running() == ()
    with pytest.raises(PlanError, match="Nothing is running"):
        find(None)


def test_of_several_one_must_be_picked(stack: ExitStack, tmp_path: Path) -> None:
    for name in ("a", "b"):
        started(stack, tmp_path / name, "Weir")
    for meant in (None, "Weir"):
        with pytest.raises(PlanError, match="2 runs match; pick one") as caught:
            find(meant)
        assert f"{tmp_path / 'a'}  (Weir)" in str(caught.value)
        assert f"{tmp_path / 'b'}  (Weir)" in str(caught.value)
    assert find("b").outing == tmp_path / "b"
    with pytest.raises(PlanError, match='No run is called "c"; running:'):
        find("c")


def test_what_does_not_answer_does_not_run(stack: ExitStack, tmp_path: Path) -> None:
    dead = announce(tmp_path / "dead", "Dead", {})
    with socket.socket(socket.AF_UNIX) as end:
        end.bind(str(dead))
    announce(tmp_path / "not yet", "Not yet", {})
    started(stack, tmp_path / "living", "Living")
    assert [run.title for run in running()] == ["Living"]


def test_a_process_that_is_too_busy_to_answer_still_runs(stack: ExitStack, tmp_path: Path) -> None:
    path = started(stack, tmp_path / "a", "Busy")
    for _ in range(300):
        end = stack.enter_context(socket.socket(socket.AF_UNIX))
        end.setblocking(False)
        try:
            end.connect(str(path))
        except BlockingIOError:
            break
    else:
        pytest.fail("the backlog never filled")
    assert answers(path)


def test_a_run_that_is_over_is_forgotten(runtime: Path, tmp_path: Path) -> None:
    path = announce(tmp_path / "a", "Weir", {})
    withdraw(path)
    withdraw(path)
    assert list((runtime / "tether").iterdir()) == []


def test_the_same_outing_has_the_same_short_path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    outing = tmp_path / ("a long name " * 12)
    path = announce(outing, "Weir", {})
    monkeypatch.chdir(tmp_path)
    assert announce(Path(outing.name), "Weir", {}) == path
    assert announce(tmp_path / "another", "Weir", {}) != path
    assert len(f"/run/user/4294967295/tether/{path.name}") < LONGEST_PATH


def test_a_note_that_cannot_be_read_is_passed_over(stack: ExitStack, runtime: Path, tmp_path: Path) -> None:
    started(stack, tmp_path / "a", "Weir")
    (runtime / "tether" / "torn.json").write_bytes(b'{"outing": "/x", "ti')
    (runtime / "tether" / "other.json").write_bytes(b"{}")
    assert [run.title for run in running()] == ["Weir"]


def test_an_outing_whose_name_is_no_utf_8_is_listed(stack: ExitStack, tmp_path: Path) -> None:
    started(stack, tmp_path / os.fsdecode(b"f\xf6rs"), "Fors")
    assert find("Fors").outing.name == "f?rs"


def test_a_folder_of_ones_own_is_made_and_kept(tmp_path: Path) -> None:
    folder = own_folder(tmp_path / "mine")
    assert folder.stat().st_mode & 0o777 == 0o700
    assert own_folder(folder) == folder


def test_a_folder_that_is_a_link_is_refused(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir(mode=0o700)
    (tmp_path / "link").symlink_to(tmp_path / "real")
    with pytest.raises(PlanError, match="not a link"):
        own_folder(tmp_path / "link")


def test_a_folder_that_is_open_to_others_is_refused(tmp_path: Path) -> None:
    (tmp_path / "open").mkdir()
    (tmp_path / "open").chmod(0o770)
    with pytest.raises(PlanError, match="chmod 700"):
        own_folder(tmp_path / "open")


def test_a_folder_of_somebody_else_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "theirs").mkdir(mode=0o700)
    me = os.getuid()
    monkeypatch.setattr(os, "getuid", lambda: me + 1)
    with pytest.raises(PlanError, match="belongs to somebody else"):
        own_folder(tmp_path / "theirs")


def test_notes_in_a_folder_that_cannot_be_trusted_are_not_read(stack: ExitStack, runtime: Path, tmp_path: Path) -> None:
    started(stack, tmp_path / "a", "Weir")
    (runtime / "tether").chmod(0o777)
    assert running() == ()


def test_a_runtime_folder_that_is_given_is_used(runtime: Path) -> None:
    assert running_module.runtime_folders() == (runtime / "tether",)


@pytest.mark.parametrize("given", ["", "relative", "/does/not/exist"])
def test_without_a_runtime_folder_one_in_tmp_is_used(given: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", given)
    assert running_module.runtime_folders() == (Path(f"/tmp/tether-{os.getuid()}"),)  # noqa: S108


@pytest.mark.parametrize("lingers", [False, True])
def test_a_folder_that_goes_with_the_last_session_is_only_looked_into(
    lingers: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if lingers:
        (tmp_path / pwd.getpwuid(os.getuid()).pw_name).touch()
    runtime, fallback = Path(f"/run/user/{os.getuid()}"), Path(f"/tmp/tether-{os.getuid()}")  # noqa: S108
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(runtime))
    monkeypatch.setattr(running_module, "_LINGERING", tmp_path)
    monkeypatch.setattr(Path, "is_dir", lambda path: path == runtime)
    expected = (runtime / "tether", fallback)
    assert running_module.runtime_folders() == (expected if lingers else expected[::-1])


def test_old_notes_of_runs_that_were_killed_are_swept_and_young_ones_stay(
    stack: ExitStack, tmp_path: Path, runtime: Path
) -> None:
    killed = announce(tmp_path / "killed", "Killed", {})
    starting = announce(tmp_path / "starting", "Starting", {})
    alive = started(stack, tmp_path / "alive", "Alive")
    for path in (killed, alive):
        os.utime(path.with_suffix(".json"), (0, 0))
    announce(tmp_path / "new", "New", {})
    left = {path.stem for path in (runtime / "tether").glob("*.json")}
    assert killed.stem not in left
    assert {starting.stem, alive.stem} <= left
