"""The wheel: all that the program reads is in it, and it runs outside the checkout."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

pytestmark = pytest.mark.prove


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the wheel and unpack it beside nothing of the checkout."""
    folder = tmp_path_factory.mktemp("wheel")
    pip = [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check"]
    build = [*pip, "wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", str(folder), str(ROOT)]
    subprocess.run(build, check=True, timeout=100)
    (wheel,) = folder.glob("tether-*.whl")
    subprocess.run(
        [*pip, "install", "--no-deps", "--target", str(folder / "site"), str(wheel)], check=True, timeout=100
    )
    return folder / "site"


def run(installed: Path, folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(installed)}
    command = [sys.executable, "-P", "-m", "tether", *words]
    return subprocess.run(
        command, cwd=folder, env=environment, capture_output=True, text=True, timeout=100, check=False
    )


def test_it_is_the_installed_one_that_runs(installed: Path, tmp_path: Path) -> None:
    told = run(installed, tmp_path, "setup")
    assert told.returncode == 0, told.stderr
    assert str(installed / "tether" / "hardware-notes") in told.stderr


def test_a_plan_that_comes_with_it_is_rehearsed(installed: Path, tmp_path: Path) -> None:
    (tmp_path / "world.toml").write_text("[sensor]\nwindow_px = [240, 160]\n")
    words = ("rehearse", "demo", "--pace", "max", "--outing", "evening", "--world", "world.toml")
    done = run(installed, tmp_path, *words)
    assert done.returncode == 0, done.stderr
    assert "done" in run(installed, tmp_path, "log", "evening").stdout


def test_body_files_notes_rules_and_units_are_in_it(installed: Path, tmp_path: Path) -> None:
    package = installed / "tether"
    for kind in ("profiles", "hardware-notes"):
        there = {path.name for path in (package / kind).rglob("*") if path.is_file()}
        assert there == {path.name for path in (ROOT / kind).rglob("*") if path.is_file()}
    assert (
        "canon-eos-r6"
        in run(installed, tmp_path, "body", "show").stdout + run(installed, tmp_path, "body", "show").stderr
    )
    assert run(installed, tmp_path, "setup", "rule").stdout.startswith("# Cameras that speak")
