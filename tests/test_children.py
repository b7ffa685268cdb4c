"""No process that the program starts looks for its modules in the folder that somebody happens to stand in."""

from __future__ import annotations

import ast
import fcntl
from collections.abc import Iterator
from pathlib import Path

import pytest

from tether.guard import LOCK_NAME
from tether.service.launch import start_guard

ROOT = Path(__file__).parents[1]
PRODUCT = sorted((ROOT / "tether").rglob("*.py"))


def after_the_interpreter(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Yield, for each `sys.executable` in a tree, its line and what comes next in the list or call it stands in."""
    for node in ast.walk(tree):
        words = node.elts if isinstance(node, ast.List | ast.Tuple) else node.args if isinstance(node, ast.Call) else []
        for place, word in enumerate(words):
            if ast.unparse(word) == "sys.executable":
                yield word.lineno, ast.unparse(words[place + 1]) if place + 1 < len(words) else "nothing"


def test_every_child_is_started_without_the_current_folder_on_its_path() -> None:
    found = [
        (path.relative_to(ROOT).as_posix(), line, first)
        for path in PRODUCT
        for line, first in after_the_interpreter(ast.parse(path.read_text()))
    ]
    named = sum(path.read_text().count("sys.executable") for path in PRODUCT)
    assert len(found) == named >= 5, "a way to start a child that this test does not see"
    assert [one for one in found if one[2] != "'-P'"] == []


@pytest.mark.parametrize("unit", ["tether-later.service", "tether-later@.service"])
def test_every_unit_starts_without_the_current_folder_on_its_path(unit: str) -> None:
    (line,) = [
        line for line in (ROOT / "hardware-notes" / unit).read_text().splitlines() if line.startswith("ExecStart=")
    ]
    assert " -P -m tether" in line


def test_a_module_that_lies_in_the_folder_is_not_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The guard needs `select`, and is told at once that another guards this outing."""
    (tmp_path / "select.py").write_text("open('was-run', 'w').close()\n")
    outing = tmp_path / "outing"
    outing.mkdir()
    monkeypatch.chdir(tmp_path)
    with (outing / LOCK_NAME).open("a") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        with start_guard(outing) as guard:
            assert guard.wait(30) == 2
    assert not (tmp_path / "was-run").exists()
