"""A 64-bit Pi OS gets every dependency as a wheel: nothing is compiled on the Pi."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from packaging.requirements import Requirement

pytestmark = pytest.mark.prove
LOCK = Path(__file__).parents[2] / "requirements.lock"
#: C libraries of the oldest Pi OS with Python 3.11 (glibc 2.36), and what wheels of it may call themselves.
PLATFORMS = [f"manylinux_2_{minor}_aarch64" for minor in range(17, 37)] + ["manylinux2014_aarch64"]


def locked(python: str) -> list[str]:
    """Return what the lock file has for this Python on a Pi, a requirement with its hashes each."""
    text = re.sub(r"^\s*#.*$", "", LOCK.read_text(encoding="utf-8"), flags=re.MULTILINE).replace("\\\n", " ")
    lines = [line for line in text.splitlines() if line.strip()]
    here = {"python_version": python, "python_full_version": f"{python}.5", "platform_machine": "aarch64"}
    found = []
    for line in lines:
        said, hashes = line.split(" --hash", 1)
        one = Requirement(said)
        if one.marker is None or one.marker.evaluate(here):
            found.append(f"{one.name}{one.specifier} --hash{hashes}")
    return found


@pytest.mark.parametrize("python", ["3.11", "3.13"])
def test_every_dependency_has_a_wheel_for_a_64_bit_pi(python: str, tmp_path: Path) -> None:
    wanted, report = tmp_path / "wanted.txt", tmp_path / "report.json"
    wanted.write_text("\n".join(locked(python)))
    pip = [sys.executable, "-m", "pip", "install", "--dry-run", "--ignore-installed", "--no-deps", "--require-hashes"]
    target = ["--only-binary=:all:", f"--python-version={python}", *(f"--platform={one}" for one in PLATFORMS)]
    target.append("--ignore-requires-python")  # older pips hold it against the Python they run on; the lock has markers
    place = ["--target", str(tmp_path / "nothing"), "--report", str(report), "-r", str(wanted)]
    done = subprocess.run([*pip, *target, *place], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    wheels = [one["download_info"]["url"].rsplit("/", 1)[1] for one in json.loads(report.read_text())["install"]]
    assert len(wheels) == len(locked(python)) > 10
    assert all(name.endswith("none-any.whl") or "aarch64" in name for name in wheels)
