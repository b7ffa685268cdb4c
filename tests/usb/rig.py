"""A bus for a test, its cameras, and the program run on it: what is preloaded is so in the program's processes only."""

from __future__ import annotations

import contextlib
import os
import platform
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.faults.ladder import TEN, plan_text
from tests.usb.bus import PRELOAD, Bus, Named
from tests.usb.camera import EOS, Kind, UsbCamera
from tether.body.process import LOCK_NAME
from tether.control.registry import running
from tether.journal import records
from tether.journal.records import LadderEnded, Noted
from tether.journal.store import JOURNAL_NAME, read_contents
from tether.journal.story import LadderStory
from tether.journal.telling import read_outing

#: The command line, in a process whose only module path is the installed one.
TETHER = (sys.executable, "-P", "-c", "from tether.command import main; main()")
#: The release whose socket messages `node.py` speaks.
UMOCKDEV = "0.17."
BODY = """
name = "{model}"
like = "{family}"
[times]
shortest = "1/8000"
longest = "{longest}"
[isos]
lowest = "50"
highest = "25600"
base_iso = "100"
[hold]
can_hold = true
shortest_s = 0.3
open_delay_s = 0.0
close_delay_s = 0.0
delay_uncertainty_s = 0.005
[sensor]
pitch_um = 4.35
width_mm = 35.9
height_mm = 23.9
[body]
optical_finder = false
frame_bytes = 2000000
[driver]
models = ["{model}"]
"""
_FAMILIES = {"eos": "canon-eos", "nikon": "nikon"}
#: The user and group of nobody; who may read everything, so that the interpreter can be root's own, but write nothing.
_NOBODY = 65534
#: How long a camera process may take to end when its run is gone [s].
_ENDS_WITHIN_S = 20.0
_AS_NOBODY = (
    "setpriv", f"--reuid={_NOBODY}", f"--regid={_NOBODY}", "--clear-groups",
    "--inh-caps=-all,+dac_read_search", "--ambient-caps=-all,+dac_read_search",
)  # fmt: skip


@dataclass(frozen=True)
class Said:
    """What a program came to: its exit code, and what it wrote."""

    code: int
    out: str
    talk: str

    @property
    def words(self) -> str:
        """All that it wrote, as one line."""
        return " ".join(f"{self.out} {self.talk}".split())


class Rig:
    """See the module."""

    def __init__(self, folder: Path, root: Path) -> None:
        self.folder = folder
        self.bus = Bus(root)
        self.cameras: list[UsbCamera] = []

    def camera(self, kind: Kind = EOS, **how: Any) -> UsbCamera:
        """Return a camera that is not yet plugged in; every one tells a serial number of its own."""
        number = len(self.cameras) + 1
        folder = self.folder / f"camera-{number}"
        one = UsbCamera(self.bus, folder, kind, **({"seed": number} | how))
        self.cameras.append(one)
        return one

    def environment(self) -> dict[str, str]:
        return os.environ | self.bus.environment()

    def python(self, code: str, **how: Any) -> Said:
        """Run Python code on the bus."""
        return self._ran((sys.executable, "-P", "-c", code), **how)

    def tether(self, *words: str | Path, **how: Any) -> Said:
        """Run a command to its end."""
        return self._ran((*TETHER, *map(str, words)), **how)

    def _ran(self, command: tuple[str, ...], within_s: float = 100.0, **how: Any) -> Said:
        environment = self.environment() | how.pop("variables", {})
        try:
            done = subprocess.run(
                command,
                env=environment | {"COLUMNS": "200"},
                cwd=how.pop("cwd", self.folder),
                capture_output=True,
                stdin=subprocess.DEVNULL,
                timeout=within_s,
                check=False,
                **how,
            )
        except subprocess.TimeoutExpired as late:
            last = (late.stderr or b"").decode()[-2000:]
            raise AssertionError(f"Not over after {within_s:.0f} s; its last words:\n{last}") from None
        return Said(done.returncode, done.stdout.decode(), done.stderr.decode())

    def unprivileged(self, *words: str | Path) -> Said:
        """Run a command as a user who is nobody, where the tests are root's; else as the same user."""
        if os.geteuid():
            return self.tether(*words)
        with tempfile.TemporaryDirectory(prefix="tu-") as home:
            os.chown(home, _NOBODY, _NOBODY)
            own = dict.fromkeys(("HOME", "XDG_RUNTIME_DIR", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "TMPDIR"), home)
            return self._ran((*_AS_NOBODY, *TETHER, *map(str, words)), cwd=home, variables=own)

    def begun_python(self, code: str) -> AbstractContextManager[subprocess.Popen[str]]:
        """Run Python code on the bus for the block."""
        return self._begun((sys.executable, "-P", "-c", code))

    def begun(self, *words: str | Path) -> AbstractContextManager[subprocess.Popen[str]]:
        """Run a command for the block."""
        return self._begun((*TETHER, *map(str, words)))

    @contextmanager
    def _begun(self, command: tuple[str, ...]) -> Iterator[subprocess.Popen[str]]:
        process = subprocess.Popen(
            command,
            env=self.environment(),
            cwd=self.folder,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        try:
            yield process
        finally:
            process.kill()
            process.communicate()

    def plan(self, kind: Kind = EOS, times: tuple[str, ...] = TEN, longest: str = "1/4", base: str = "1/30") -> Path:
        """Write a plan for a kind of camera, with a body file of it; rungs longer than its longest time are held."""
        body, plan = self.folder / "body.toml", self.folder / "plan.toml"
        body.write_text(BODY.format(model=kind.model, family=_FAMILIES[kind.dialect], longest=longest))
        plan.write_text(plan_text("On USB", body, times=times, base=base))
        return plan

    @property
    def outing(self) -> Path:
        return self.folder / "outing"

    def noted(self, words: str) -> bool:
        """Say whether something is noted with these words in it."""
        return any(words in note for note in self.notes())

    def over(self) -> bool:
        """Say whether the ladder is over."""
        return (self.outing / JOURNAL_NAME).exists() and any(
            isinstance(entry.record, LadderEnded) for entry in read_contents(self.outing).entries
        )

    def ladder(self) -> LadderStory:
        """Return the outing's last ladder, as told by the journal."""
        return read_outing(self.outing).ladders[-1]

    def notes(self) -> list[str]:
        """Return all that is noted in the journal, in order."""
        entries = read_contents(self.outing).entries if (self.outing / JOURNAL_NAME).exists() else ()
        return [entry.record.text for entry in entries if isinstance(entry.record, Noted | records.Said)]


def soon(true: Callable[[], object], within_s: float = 60.0) -> None:
    """Wait until something is true."""
    until_s = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < until_s, "it did not happen in time"
        time.sleep(0.02)


@contextmanager
def on_usb(folder: Path) -> Iterator[Rig]:
    """Have a bus for the block."""
    root = Path(tempfile.mkdtemp(prefix="tu-"))
    rig = Rig(folder, root)
    try:
        yield rig
    finally:
        _end_runs(folder)
        for one in rig.cameras:
            one.stop()
        rig.bus.close()
        shutil.rmtree(root)


def _end_runs(folder: Path) -> None:
    """End whatever runs of a test are left, guard first, so that a failed one leaves no process behind."""
    for one in running():
        if one.outing.is_relative_to(folder):
            for name in ("guard", "run process"):
                with contextlib.suppress(ProcessLookupError):
                    os.kill(one.pids[name], signal.SIGKILL)
    if (lock := folder / "outing" / "camera" / LOCK_NAME).exists():
        until_s = time.monotonic() + _ENDS_WITHIN_S
        while time.monotonic() < until_s and Path(f"/proc/{lock.read_text().strip()}").exists():
            time.sleep(0.05)


# Whether the mock is the one that this is written for

_OPENED = """
import fcntl, os, sys
node = os.open("/dev/bus/usb/001/004", os.O_RDWR)
word = bytearray(4)
fcntl.ioctl(node, 0x8004551A, word)
sys.exit(0 if int.from_bytes(word, "little") == 0x1D else 3)
"""


class _Silent:
    def came(self, data: bytes) -> None: ...
    def controlled(self, setup: bytes) -> bytes:
        return b""

    def reset(self) -> None: ...


def why_not_here() -> str | None:
    """Say what is missing for a bus on this machine, by trying: a child opens a mocked node and asks it something."""
    if platform.machine() != "x86_64" or sys.platform != "linux":
        return "a mocked USB device is laid out for Linux on x86-64 only"
    if (found := _installed()) is not None and not found.startswith(UMOCKDEV):
        return f"umockdev {found} is installed; the bench speaks to {UMOCKDEV}x"
    root = Path(tempfile.mkdtemp(prefix="tu-"))
    bus = Bus(root)
    try:
        bus.plug(Named(vendor=1, product=1, maker="", name=""), _Silent())
        command = (sys.executable, "-P", "-c", _OPENED)
        done = subprocess.run(
            command, env=os.environ | bus.environment(), capture_output=True, text=True, timeout=20, check=False
        )
        if done.returncode == 0 and not done.stderr:
            return None
        return f"{PRELOAD} does not lead a program to the mocked device (apt-get install umockdev): {done.stderr}"
    finally:
        bus.close()
        shutil.rmtree(root)


def _installed() -> str | None:
    """Return the release of umockdev that Debian's package manager knows; None where it does not tell."""
    if not shutil.which("dpkg-query"):
        return None
    words = ("dpkg-query", "-W", "-f", "${Version}", "umockdev")
    return subprocess.run(words, capture_output=True, text=True, check=False).stdout or None
