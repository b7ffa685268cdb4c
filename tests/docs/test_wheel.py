"""The wheel: in a clean environment outside the checkout, all that the program reads is in it, and it runs.

On the Python that runs the tests, and on 3.13 where this machine has one. What it depends on comes from the package
index, in the releases of the lock file.
"""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.docs.test_readme import blocks, commands

ROOT = Path(__file__).parents[2]

pytestmark = [pytest.mark.prove, pytest.mark.timeout(1800)]


def pythons() -> Iterator[str]:
    """Give the interpreters that it is installed for: this one, and the first of 3.13 that runs."""
    yield sys.executable
    newer: tuple[str | Path, ...] = (
        *(f"{folder}/python3.13" for folder in os.get_exec_path()),
        *sorted(Path.home().glob(".pyenv/versions/3.13*/bin/python")),
    )
    if sys.version_info[:2] != (3, 13):
        yield from [str(one) for one in newer if runs(one)][:1]


def runs(python: str | Path) -> bool:
    try:
        return subprocess.run([python, "-c", ""], capture_output=True, timeout=60, check=False).returncode == 0
    except OSError:
        return False


@dataclass(frozen=True)
class Clean:
    """An environment with the wheel and what it depends on, and nothing else."""

    folder: Path

    def ran(self, folder: Path, *words: str, program: str = "tether") -> subprocess.CompletedProcess[str]:
        """Run a program of it in a folder, with settings and state of its own."""
        own = {f"XDG_{kind.upper()}_HOME": str(folder / kind) for kind in ("state", "config", "data")}
        environment = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")} | own
        return subprocess.run(
            [str(self.folder / "bin" / program), *words],
            cwd=folder,
            env=environment,
            input="",
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=600,
            check=False,
        )

    @property
    def package(self) -> Path:
        (found,) = self.folder.glob("lib/python*/site-packages/tether")
        return found


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    pip = [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check"]
    build = [*pip, "wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", str(folder), str(ROOT)]
    subprocess.run(build, check=True, timeout=200)
    (built,) = folder.glob("tether-*.whl")
    return built


@pytest.fixture(scope="module", params=pythons(), ids=lambda python: Path(python).name)
def clean(request: pytest.FixtureRequest, wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Clean:
    folder = tmp_path_factory.mktemp("clean")
    subprocess.run([request.param, "-m", "venv", str(folder)], check=True, timeout=200)
    locked = folder / "constraints.txt"
    text = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    locked.write_text("\n".join(re.findall(r"^[\w.-]+==\S+(?: ; [^\\\n]*)?", text, flags=re.MULTILINE)))
    pip = [str(folder / "bin" / "python"), "-m", "pip", "--quiet", "--disable-pip-version-check"]
    subprocess.run([*pip, "install", "--only-binary=:all:", "-c", str(locked), str(wheel)], check=True, timeout=600)
    return Clean(folder)


def test_it_is_the_installed_one_that_runs(clean: Clean, tmp_path: Path) -> None:
    told = clean.ran(tmp_path, "setup")
    assert told.returncode == 0, told.stderr
    assert str(clean.package / "hardware-notes") in told.stderr


def test_body_files_notes_rules_and_units_are_in_it(clean: Clean, tmp_path: Path) -> None:
    for kind in ("profiles", "hardware-notes"):
        there = {path.name for path in (clean.package / kind).rglob("*") if path.is_file()}
        assert there == {path.name for path in (ROOT / kind).rglob("*") if path.is_file()}
    shown = clean.ran(tmp_path, "body", "show")
    assert "canon-eos-r6" in shown.stdout + shown.stderr
    assert clean.ran(tmp_path, "setup", "rule").stdout.startswith("# Cameras that speak")


def test_the_readmes_tour_runs_in_its_order_and_its_script(clean: Clean, tmp_path: Path) -> None:
    for line in commands():
        words = shlex.split(line)
        if words[0] == "tether":
            done = clean.ran(tmp_path, *words[1:])
            assert done.returncode == 0, f"{line}: {done.stderr}"
    (script,) = blocks("python")
    (tmp_path / "script.py").write_text(script)
    assert len([line for line in script.splitlines() if line]) <= 12
    done = clean.ran(tmp_path, "-W", "error", "script.py", program="python")
    assert done.returncode == 0, done.stderr
    assert "made" in done.stdout
