"""What the processes of a run and its faces load at their start: memory is short on a small board."""

from __future__ import annotations

import subprocess
import sys

import pytest

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
