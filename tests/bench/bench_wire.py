"""Measures the hold and the dead time through the driver and the camera library, on a simulated camera on the wire.

The error of a hold is what the camera saw: the time between the arrivals of the commands, off what was asked. The
camera's process runs at a real-time priority above the controller's, so that it is not what is measured. The dead time
of a frame (close, wait for the file, fetch about 1 MB) stands beside that of a bare loop on python-gphoto2 that does
the same and no more, in the same run and in turns.

::

    python -m tests.bench.bench_wire
"""

from __future__ import annotations

import argparse
import contextlib
import os
import queue
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.bench.bench_hold import at, busy_cores
from tests.body.driver.on_wire import OnWire, on_wire
from tests.body.responder.observed import Observed, observed
from tether.body.dialects import Dialect
from tether.body.protocol import BULB, CameraEvent, Ended, Failed, Order, Settings
from tether.body.remote import CameraProcess
from tether.body.responder.start import WireHow
from tether.clock import AffineClock

HOLD_S = 0.25
HOLDS, FRAMES = 200, 20
#: The observer's real-time priority; the controller's is 10.
PRIORITY = 20
GOAL_IDLE_P50_MS, GOAL_LOADED_P99_MS, GOAL_DEAD_S = 0.12, 0.6, 0.15
#: Frames of about 1 MB.
WINDOW_PX = (700, 700)

#: How a bare loop on python-gphoto2 begins: the camera at path, of this model, on bulb and drained.
BARE_BEGIN = """
import json, sys, time
import gphoto2 as gp
path, model, into = sys.argv[1:4]
camera = gp.Camera()
known = gp.CameraAbilitiesList(); known.load()
camera.set_abilities(known.get_abilities(known.lookup_model(model)))
ports = gp.PortInfoList(); ports.load()
camera.set_port_info(ports.get_info(ports.lookup_path(path)))
camera.init()
def put(name, value):
    widget = camera.get_single_config(name); widget.set_value(value); camera.set_single_config(name, widget)
put("capturetarget", "Memory card"); put("shutterspeed", "bulb")
while camera.wait_for_event(20)[0] != gp.GP_EVENT_TIMEOUT: pass
"""
_BARE = f"""{BARE_BEGIN}
frames, hold_s = int(sys.argv[4]), float(sys.argv[5])
for frame in range(frames):
    began = time.monotonic()
    put("eosremoterelease", "Press Full"); time.sleep(hold_s); put("eosremoterelease", "Release Full")
    kind = None
    while kind != gp.GP_EVENT_FILE_ADDED:
        kind, added = camera.wait_for_event(20)
    file = camera.file_get(added.folder, added.name, gp.GP_FILE_TYPE_NORMAL)
    file.save(into + f"/{{frame}}.dng")
    print(time.monotonic() - began - hold_s, flush=True)
camera.exit()
"""


class Held:
    """A camera process on a camera on the wire, ready to hold."""

    def __init__(self, wire: OnWire, *, realtime: bool) -> None:
        self._box: queue.SimpleQueue[CameraEvent] = queue.SimpleQueue()
        self._camera = CameraProcess(wire.choice, AffineClock(), self._box, realtime=realtime)
        self._camera.apply(Settings(time=BULB, aperture="f/8", iso="100"))
        self._made = 0
        self.granted: bool | None = None

    def frame(self, into: Path | None = None) -> float:
        """Hold one frame and wait for its file (and fetch it); return the dead time [s]."""
        self._made += 1
        began_s = time.monotonic()
        self._camera.begin(Order(frame=self._made, way="held", command_s=HOLD_S))
        event: CameraEvent = self._box.get(timeout=30)
        while not isinstance(event, (Ended, Failed)):
            event = self._box.get(timeout=30)
        if isinstance(event, Failed):
            raise SystemExit(f"A hold failed: {event}")
        self.granted = event.opening.realtime
        (file,) = self._camera.new_files(1, 30.0)
        if into is not None:
            self._camera.fetch(file, into / file.name)
        return time.monotonic() - began_s - HOLD_S

    def leave(self) -> None:
        self._camera.leave()


def off_ms(seen: list[Observed]) -> list[float]:
    """Return by how much holds were off, as the camera saw them, smallest first [ms]."""
    return sorted(abs(one.held_s - HOLD_S) * 1000 for one in seen if one.held_s is not None)


def measure_holds(dialect: Dialect, *, loaded: bool, realtime: bool) -> tuple[list[float], bool | None]:
    """Make holds on a camera of this dialect; return how far each was off, and whether real-time was granted."""
    with (
        tempfile.TemporaryDirectory() as folder,
        on_wire(Path(folder), dialect, how=WireHow(priority=PRIORITY)) as wire,
    ):
        held = Held(wire, realtime=realtime)
        with busy_cores(2 * (os.cpu_count() or 1)) if loaded else contextlib.nullcontext():
            for _ in range(HOLDS):
                held.frame()
        held.leave()
        return off_ms(observed(wire.truth)), held.granted


def measure_dead_times() -> tuple[list[float], list[float]]:
    """Return the dead times of frames through the camera process, and of a bare loop [s], smallest first."""
    sensor = {"window_px": WINDOW_PX}
    ours: list[float] = []
    bare: list[float] = []
    for _ in range(3):
        with tempfile.TemporaryDirectory() as folder, on_wire(Path(folder), "eos", sensor=sensor) as wire:
            held = Held(wire, realtime=True)
            ours += [held.frame(Path(folder)) for _ in range(FRAMES)]
            held.leave()
        with tempfile.TemporaryDirectory() as folder, on_wire(Path(folder), "eos", sensor=sensor) as wire:
            command = [
                sys.executable,
                "-c",
                _BARE,
                wire.camera.path,
                wire.camera.model,
                folder,
                str(FRAMES),
                str(HOLD_S),
            ]
            run = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True)
            bare += [float(line) for line in run.stdout.split()]
    return sorted(ours), sorted(bare)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--real-time-only", action="store_true", help="leave out holds without real-time scheduling")
    ways = (True,) if parser.parse_args().real_time_only else (True, False)
    print(f"{HOLDS} holds of {HOLD_S} s each, |held - asked| as the camera saw it [ms]; simulated camera on the wire")
    print(f"{'':48}{'p50':>10}{'p99':>10}{'max':>10}")
    figures = {}
    for dialect in ("eos", "nikon"):
        for loaded in (False, True):
            for realtime in ways:
                off, granted = measure_holds(dialect, loaded=loaded, realtime=realtime)
                figures[dialect, loaded, realtime] = off
                way = "real-time" if granted else "real-time (not granted)" if realtime else "without"
                name = f"{dialect}, {'busy' if loaded else 'idle'}, {way}"
                print(f"{name:48}{at(off, 0.5):10.3f}{at(off, 0.99):10.3f}{off[-1]:10.3f}")
    for dialect in ("eos", "nikon"):
        idle, busy = at(figures[dialect, False, True], 0.5), at(figures[dialect, True, True], 0.99)
        print(f"{dialect} with real-time scheduling: idle p50 {idle:.3f} ms (goal {GOAL_IDLE_P50_MS})", end="")
        print(f", busy p99 {busy:.3f} ms (goal {GOAL_LOADED_P99_MS})")
    ours, bare = measure_dead_times()
    more = at(ours, 0.5) - at(bare, 0.5)
    print(f"dead time of a frame of 1 MB, p50: {at(ours, 0.5):.3f} s, bare loop {at(bare, 0.5):.3f} s", end="")
    print(f", {more:+.3f} s (goal at most +{GOAL_DEAD_S})")


if __name__ == "__main__":
    main()
