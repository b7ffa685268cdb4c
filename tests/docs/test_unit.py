"""The systemd units and the udev rule that come with the notes, checked by the system's own verifiers."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

NOTES = Path(__file__).parents[2] / "hardware-notes"


UNITS = ("tether-later.service", "tether-later@.service")
#: What would take from a run what it needs: cameras, its socket, outings at home and elsewhere, the time of a hold.
TAKES_AWAY = {
    "DevicePolicy",
    "DynamicUser",
    "MemoryDenyWriteExecute",
    "PrivateDevices",
    "PrivateNetwork",
    "PrivateTmp",
    "ProtectClock",
    "ProtectHome",
    "RestrictRealtime",
    "RootDirectory",
}
#: At most this much is left exposed, in tenths of what systemd counts to ten.
MOST_EXPOSED = "50"


def said_of(command: list[str], runtime: Path) -> tuple[int, str]:
    """Run a verifier and return its exit code and all that it says."""
    verifier = shutil.which(command[0])
    assert verifier is not None, f"{command[0]} is not installed"
    runtime.chmod(0o700)
    environment = {**os.environ, "XDG_RUNTIME_DIR": str(runtime)}
    done = subprocess.run([verifier, *command[1:]], env=environment, capture_output=True, text=True, check=False)
    return done.returncode, done.stdout + done.stderr


def settings(name: str) -> list[tuple[str, str]]:
    """Return what a unit says, line by line."""
    lines = [line for line in (NOTES / name).read_text(encoding="utf-8").splitlines() if "=" in line and line[0] != "#"]
    return [(key, value) for key, _, value in (line.partition("=") for line in lines)]


def test_both_units_have_one_environment_and_close_the_same_calls_and_sockets() -> None:
    user, system = (dict(settings(name)) for name in UNITS)
    same = {"Environment", "ExecStart", "KillMode", "SystemCallFilter", "RestrictAddressFamilies", "WorkingDirectory"}
    assert {key: user[key] for key in same} == {key: system[key] for key in same}


@pytest.mark.parametrize("name", UNITS)
def test_what_a_run_needs_is_left_open(name: str) -> None:
    said = dict(settings(name))
    assert not TAKES_AWAY & set(said)
    assert said.get("ProtectSystem", "full") == "full", "outings lie wherever the user may write"
    assert {"AF_UNIX", "AF_NETLINK", "AF_INET"} <= set(said["RestrictAddressFamilies"].split())
    assert {"@system-service", "adjtimex", "clock_adjtime"} == set(said["SystemCallFilter"].split())


@pytest.mark.prove
@pytest.mark.parametrize("name", UNITS)
def test_systemd_counts_less_than_five_of_ten_left_exposed(name: str, tmp_path: Path) -> None:
    words = ["security", "--no-pager", "--offline=true", f"--threshold={MOST_EXPOSED}", str(NOTES / name)]
    code, said = said_of(["systemd-analyze", *words], tmp_path)
    assert code == 0, said
    found = re.search(r"Overall exposure level for \S+: ([0-9.]+)", said)
    assert found, said
    assert found[1] in (NOTES / "linux.md").read_text(encoding="utf-8")


@pytest.mark.prove
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


@pytest.mark.prove
def test_udev_reads_the_rule_without_complaint_and_would_complain_of_a_wrong_one(tmp_path: Path) -> None:
    assert shutil.which("udevadm") is not None, "udevadm is not installed"
    rules = tmp_path / "rules"
    rules.mkdir()
    shutil.copy(NOTES / "60-tether-camera.rules", rules)
    assert rules_read(rules, tmp_path) == []
    text = (NOTES / "60-tether-camera.rules").read_text(encoding="utf-8")
    (rules / "60-tether-camera.rules").write_text(text.replace("SUBSYSTEM", "SUBSYSTEMM"), encoding="utf-8")
    assert rules_read(rules, tmp_path)
