"""The systemd unit that comes with the notes, checked by systemd's own verifier."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

pytestmark = pytest.mark.prove
UNIT = Path(__file__).parents[2] / "hardware-notes" / "tether-later.service"


def test_systemd_finds_nothing_to_complain_of(tmp_path: Path) -> None:
    verifier = shutil.which("systemd-analyze")
    assert verifier is not None, "systemd-analyze is not installed"
    tmp_path.chmod(0o700)
    done = subprocess.run(
        [verifier, "verify", "--user", UNIT],
        env={**os.environ, "XDG_RUNTIME_DIR": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
