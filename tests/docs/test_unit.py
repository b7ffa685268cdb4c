"""The systemd units and the udev rule that come with the notes, checked by the system's own verifiers."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

pytestmark = pytest.mark.prove
NOTES = Path(__file__).parents[2] / "hardware-notes"


def said_of(command: list[str], runtime: Path) -> tuple[int, str]:
    """Run a verifier and return its exit code and all that it says."""
    verifier = shutil.which(command[0])
    assert verifier is not None, f"{command[0]} is not installed"
    runtime.chmod(0o700)
    environment = {**os.environ, "XDG_RUNTIME_DIR": str(runtime)}
    done = subprocess.run([verifier, *command[1:]], env=environment, capture_output=True, text=True, check=False)
    return done.returncode, done.stdout + done.stderr


def test_systemd_finds_nothing_to_complain_of(tmp_path: Path) -> None:
    assert said_of(["systemd-analyze", "verify", "--user", str(NOTES / "tether-later.service")], tmp_path) == (0, "")
    assert said_of(["systemd-analyze", "verify", str(NOTES / "tether-later@.service")], tmp_path) == (0, "")


def rules_read(folder: Path, scratch: Path) -> list[str]:
    """Return what udev says of the rules in a folder when it reads them, in a file system where /run is another."""
    apart = ["unshare", "--mount"] if os.getuid() == 0 else ["unshare", "--user", "--map-root-user", "--mount"]
    lay = f'mount -t tmpfs none /run && mkdir -p /run/udev && cp -r "{folder}" /run/udev/rules.d'
    _, said = said_of([*apart, "sh", "-c", f"{lay} && udevadm test --action=add /sys/class/mem/null"], scratch)
    assert "Reading rules file: /run/udev/rules.d/" in said, said
    return [line for line in said.splitlines() if line.startswith("/run/udev/rules.d/")]


def test_udev_reads_the_rule_without_complaint_and_would_complain_of_a_wrong_one(tmp_path: Path) -> None:
    assert shutil.which("udevadm") is not None, "udevadm is not installed"
    rules = tmp_path / "rules"
    rules.mkdir()
    shutil.copy(NOTES / "60-tether-camera.rules", rules)
    assert rules_read(rules, tmp_path) == []
    text = (NOTES / "60-tether-camera.rules").read_text(encoding="utf-8")
    (rules / "60-tether-camera.rules").write_text(text.replace("SUBSYSTEM", "SUBSYSTEMM"), encoding="utf-8")
    assert rules_read(rules, tmp_path)
