"""Tether as a library: the example of the README, from a plan to pixels, and what its functions say of themselves."""

from __future__ import annotations

import inspect
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.plan.plans import HEAD
from tether import library

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
PLAN = """
[base]
time = "1/125"
aperture = "f/8"
iso = 100
frames = 0
[rungs]
times = ["1/125", "1/60"]
[run]
dark_frames = "none"
"""


@pytest.mark.prove
def test_the_example_goes_from_a_plan_to_pixels(tmp_path: Path) -> None:
    (script,) = re.findall(r"```python\n(.*?)```", README, flags=re.DOTALL)
    (tmp_path / "weir.toml").write_text(HEAD + PLAN)
    (tmp_path / "script.py").write_text(script)
    environment = {**os.environ, "XDG_STATE_HOME": str(tmp_path), "XDG_CONFIG_HOME": str(tmp_path)}
    command = [sys.executable, "-W", "error", "script.py"]
    done = subprocess.run(
        command, cwd=tmp_path, env=environment, capture_output=True, text=True, timeout=100, check=False
    )
    assert done.returncode == 0, done.stderr
    frames = [line for line in done.stdout.splitlines() if "of the way to clipping" in line]
    assert len(frames) == 2
    levels = [float(re.findall(r"([0-9.]+)% of", line)[0]) for line in frames]
    assert all(1 < level < 90 for level in levels), "neither black nor burnt out"


def test_every_name_is_told_and_no_function_takes_keywords_that_it_does_not_name() -> None:
    for name in library.__all__:
        one = getattr(library, name)
        assert inspect.getdoc(one), name
        assert name in README or name[0].isupper() or name == "read_outing"
        if inspect.isfunction(one):
            kinds = {parameter.kind for parameter in inspect.signature(one).parameters.values()}
            assert not kinds & {inspect.Parameter.VAR_KEYWORD, inspect.Parameter.VAR_POSITIONAL}, name
            told = inspect.getdoc(one) or ""
            assert all(f"{given}" in told for given in inspect.signature(one).parameters), name
            assert "Raises" in told


def test_it_says_that_nothing_is_promised() -> None:
    assert "no promise of stability yet" in (inspect.getdoc(library) or "")
    assert "no promise of stability yet" in README
