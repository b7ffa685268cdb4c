"""Measures the hold: how far the time between our open and close commands is off what was asked.

Two hundred holds of 50 ms in real time, through the real camera process around a simulated body whose commands take no
time, idle and with twice as many busy processes as the machine has cores. Beside it, in the same run, the plain hold: a
process of its own that notes the time, sleeps for 50 ms, and notes the time. The three ways take turns, so that each
meets the same machine.

::

    python -m tests.bench.bench_hold                  all
    python -m tests.bench.bench_hold --no-realtime    without asking for real-time scheduling
"""

from __future__ import annotations

import argparse
import contextlib
import os
import platform
import queue
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from tests.body.choices import choice
from tether.body.protocol import BULB, CameraEvent, Ended, Opened, Order, Settings
from tether.body.remote import CameraProcess
from tether.clock import AffineClock, to_ns

HOLDS = 200
HOLD_S = 0.050
ROUNDS = 10
PLAIN, WITHOUT, WITH = "plain sleep", "camera process", "camera process, real-time scheduling"
GOAL_MS = 1.0
GOAL_SHARE = 0.25

_PLAIN_HOLDS = """
import sys, time
for _ in range(int(sys.argv[1])):
    opened_ns = time.monotonic_ns()
    time.sleep(float(sys.argv[2]))
    print(time.monotonic_ns() - opened_ns)
"""


class HeldCamera:
    """A camera process at a simulated body without delays, ready to hold."""

    def __init__(self, folder: Path, *, realtime: bool) -> None:
        self._box: queue.SimpleQueue[CameraEvent] = queue.SimpleQueue()
        self._camera = CameraProcess(choice(folder), AffineClock(), self._box, realtime=realtime)
        self._camera.apply(Settings(time=BULB, aperture="f/11", iso="100"))
        self._made = 0
        self.in_force: bool | None = None

    def off_ms(self, holds: int) -> list[float]:
        """Make some holds and return by how much each was off [ms]."""
        return [self._one_off_ms() for _ in range(holds)]

    def _one_off_ms(self) -> float:
        self._made += 1
        self._camera.begin(Order(frame=self._made, way="held", command_s=HOLD_S))
        opened, ended = self._box.get(timeout=30), self._box.get(timeout=30)
        if not (isinstance(opened, Opened) and isinstance(ended, Ended)):
            raise SystemExit(f"A hold failed: {ended}")
        self.in_force = ended.opening.realtime
        return (ended.opening.close_called_ns - ended.opening.open_called_ns - to_ns(HOLD_S)) / 1e6

    def leave(self) -> None:
        self._camera.leave()


def plain_off_ms(holds: int) -> list[float]:
    """Make some plain holds, in a session of its own like the camera process, and return how far each was off [ms]."""
    command = [sys.executable, "-c", _PLAIN_HOLDS, str(holds), str(HOLD_S)]
    run = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True, start_new_session=True)
    return [(int(line) - to_ns(HOLD_S)) / 1e6 for line in run.stdout.split()]


@contextlib.contextmanager
def busy_cores(processes: int) -> Iterator[None]:
    """Keep the machine busy with so many processes that do nothing but count."""
    busy = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(processes)]
    try:
        time.sleep(0.5)
        yield
    finally:
        for process in busy:
            process.kill()
            process.wait()


def measure(cameras: dict[str, HeldCamera]) -> dict[str, list[float]]:
    """Return by how much the holds of each way were off, smallest first [ms]."""
    off: dict[str, list[float]] = {PLAIN: [], **{way: [] for way in cameras}}
    for _ in range(ROUNDS):
        off[PLAIN] += plain_off_ms(HOLDS // ROUNDS)
        for way, camera in cameras.items():
            off[way] += camera.off_ms(HOLDS // ROUNDS)
    return {way: sorted(map(abs, values)) for way, values in off.items()}


def at(off_ms: list[float], share: float) -> float:
    """Return the value that a share of the sorted values does not exceed."""
    return off_ms[max(round(share * len(off_ms)) - 1, 0)]


def show(load: str, off: dict[str, list[float]], refused: set[str]) -> None:
    for way, values in off.items():
        figures = "".join(f"{value:10.3f}" for value in (at(values, 0.5), at(values, 0.99), values[-1]))
        print(f"{load:10}{way + (' (not granted)' if way in refused else ''):52}{figures}")


def judge(loaded: dict[str, list[float]]) -> None:
    """Say whether the goals are met."""
    plain = at(loaded[PLAIN], 0.99)
    if WITH in loaded:
        print(
            f"Goal: p99 at most {GOAL_MS} ms busy, with real-time scheduling: {_met(at(loaded[WITH], 0.99), GOAL_MS)}"
        )
    without, most = at(loaded[WITHOUT], 0.99), GOAL_SHARE * plain
    print(f"Goal: p99 at most a quarter of plain ({most:.3f} ms) busy, without: {_met(without, most)}")


def _met(value_ms: float, most_ms: float) -> str:
    return f"{'met' if value_ms <= most_ms else 'MISSED'} ({value_ms:.3f} ms)"


def main() -> None:
    parser = argparse.ArgumentParser(description="Measure the hold.")
    parser.add_argument("--no-realtime", action="store_true", help="do not ask for real-time scheduling")
    wanted = {WITHOUT: False} if parser.parse_args().no_realtime else {WITHOUT: False, WITH: True}
    cores = os.cpu_count() or 1
    print(
        f"{platform.system()} {platform.release()}, {cores} cores, Python {platform.python_version()}; simulated body"
    )
    print(f"|held - asked| in ms, by the command stamps, {HOLDS} holds of {HOLD_S * 1000:.0f} ms each")
    print(f"{'machine':10}{'way':52}{'p50':>10}{'p99':>10}{'max':>10}")
    with tempfile.TemporaryDirectory() as folder, contextlib.ExitStack() as leaving:
        cameras = {}
        for way, realtime in wanted.items():
            cameras[way] = HeldCamera(Path(folder) / str(realtime), realtime=realtime)
            leaving.callback(cameras[way].leave)
        idle = measure(cameras)
        with busy_cores(2 * cores):
            loaded = measure(cameras)
        refused = {way for way, camera in cameras.items() if camera.in_force is not wanted[way]}
        show("idle", idle, refused)
        show("busy", loaded, refused)
    judge(loaded)


if __name__ == "__main__":
    main()
