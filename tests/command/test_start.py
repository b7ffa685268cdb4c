"""A command is there at once: what is loaded for it, in an interpreter of its own, and what its options stand for."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.journal.outings import weir, write_outing
from tether.capture.base_search import FRAMES
from tether.command import commands, options
from tether.frames.exposing import WANTED_STOPS
from tether.service.rehearsal import MAX

ROOT = Path(__file__).parents[2]
#: What takes longest to load of all that the program uses, and what it has of its own that brings it.
HEAVY = (
    "PIL",
    "apscheduler",
    "exiv2",
    "gphoto2",
    "jeepney",
    "numpy",
    "pydantic",
    "rawpy",
    "rich",
    "scipy",
    "sqlalchemy",
    "sqlite3",
    "starlette",
    "textual",
    "tifffile",
    "tomlkit",
    "uvicorn",
)
PLAN = str(ROOT / "profiles/plans/demo.toml")
SCRIPT = f"""
import sys
sys.argv = ["tether", *sys.argv[1:]]
from tether.command import main
try:
    main()
except SystemExit as ended:
    code = ended.code or 0
print("loaded:", code, *(name for name in {HEAVY!r} if name in sys.modules))
"""


def loaded(*words: str, **environment: str) -> tuple[int, set[str], str]:
    """Call a command; return its exit code, what it has loaded of what is heavy, and what it printed."""
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, *words],
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        check=True,
    )
    printed, _, last = done.stdout.rpartition("loaded: ")
    code, *names = last.split()
    return int(code), set(names), printed


@pytest.mark.parametrize("words", [("--version",), ("--help",), ("run", "--help"), ("body", "try", "--help")])
def test_help_and_version_load_nothing_that_takes_a_while(words: tuple[str, ...]) -> None:
    code, heavy, printed = loaded(*words)
    assert code == 0
    assert printed
    assert heavy == set()


@pytest.mark.parametrize(
    ("line", "among"),
    [
        ("tether la", "ladder"),
        ("tether ladder --", "--why"),
        ("tether base --", "--headroom"),
        ("tether rehearse --pace 2 --", "--answer-for-me"),
        ("tether rehearse --through-driver e", "eos"),
        ("tether measure ", "hold"),
        ("tether body try --", "--quick"),
        ("tether ladder de", "demo"),
        ("tether log e", "evening"),
        ("tether desk e", "evening"),
        ("tether body show simul", "simulated"),
        ("tether say stop n", "now"),
    ],
)
def test_a_tab_loads_nothing_that_takes_a_while(
    line: str, among: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    write_outing(tmp_path / "evening", weir())
    words = {"COMP_WORDS": line, "COMP_CWORD": str(len(line.split(" ")) - 1)}
    code, heavy, printed = loaded(_TETHER_COMPLETE="bash_complete", **words)
    assert code == 0
    assert f"plain,{among}" in printed.splitlines()
    assert heavy == set()


def test_a_ladder_needs_the_checker_of_plans_and_for_a_table_its_library() -> None:
    assert loaded("ladder", PLAN)[:2] == (0, {"pydantic", "rich"})


def test_a_log_is_read_without_arrays_and_pictures(tmp_path: Path) -> None:
    write_outing(tmp_path / "weir", weir())
    assert loaded("log", str(tmp_path / "weir"))[:2] == (0, {"pydantic", "rich", "sqlite3"})


@pytest.mark.parametrize("words", [("say", "pause"), ("stop",), ("watch",)])
def test_a_run_is_spoken_to_without_its_engine(words: tuple[str, ...]) -> None:
    code, heavy, _ = loaded(*words)
    assert code == 2
    assert heavy <= {"pydantic", "rich"}


def test_what_help_says_of_defaults_is_what_holds_where_nothing_is_said() -> None:
    assert (commands.BASE_HEADROOM_STOPS, commands.BASE_FRAMES, options.MAX) == (WANTED_STOPS, FRAMES, MAX)
