"""What the processes of a run and its faces load at their start: memory is short on a small board."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

HEAVY = (
    "numpy",
    "scipy",
    "scipy.stats",
    "scipy.optimize",
    "PIL",
    "rawpy",
    "tifffile",
    "exiv2",
    "gphoto2",
    "sqlalchemy",
    "apscheduler",
    "textual",
    "rich",
    "pydantic",
    "starlette",
    "tomlkit",
)


@pytest.mark.parametrize(
    ("module", "may"),
    [
        ("tether.service.process", {"numpy", "PIL", "rawpy", "tifffile", "exiv2", "pydantic"}),
        ("tether.control.client", {"pydantic"}),
        ("tether.service.launch", {"pydantic"}),
        ("tether.service.scheduler", {"pydantic", "apscheduler", "sqlalchemy"}),
        (
            "tether.editor.process",
            {"numpy", "scipy", "PIL", "rawpy", "tifffile", "exiv2", "pydantic", "tomlkit"},
        ),
        ("tether.frames.reading", {"numpy", "scipy", "PIL", "rawpy", "tifffile", "pydantic"}),
        ("tether.body.process", set()),
        ("tether.desk.app", {"textual", "rich", "pydantic", "tomlkit"}),
        ("tether.page.serving", {"pydantic", "starlette"}),
    ],
)
def test_no_more_than_it_needs_at_once(module: str, may: set[str]) -> None:
    script = f"import sys, {module}; print(*(name for name in {HEAVY!r} if name in sys.modules))"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert set(done.stdout.split()) <= may


def test_what_a_process_runs_is_all_defined_by_then() -> None:
    """A function below the call of `main` is there for whoever imports the module, and not for the process itself."""
    for path in sorted((ROOT / "tether").rglob("*.py")):
        body = ast.parse(path.read_text(encoding="utf-8")).body
        at = [number for number, one in enumerate(body) if isinstance(one, ast.If) and "__name__" in ast.unparse(one)]
        assert at in ([], [len(body) - 1]), path
