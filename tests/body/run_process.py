"""A run process to be killed: begins a long hold on a paced camera, says so, and waits. Run by `test_process.py`.

Arguments: the body's folder, the pace, the time to hold [s]. Prints the process id of the camera process once the
shutter is open.
"""

from __future__ import annotations

import queue
import sys
import time
from pathlib import Path

from tests.body.choices import choice
from tether.body.process import LOCK_NAME
from tether.body.protocol import BULB, CameraEvent, Opened, Order, Settings
from tether.body.remote import CameraProcess
from tether.clock import AffineClock


def main(folder: Path, pace: float, open_s: float) -> None:
    box: queue.SimpleQueue[CameraEvent] = queue.SimpleQueue()
    camera = CameraProcess(choice(folder), AffineClock.started_now(pace), box)
    camera.apply(Settings(time=BULB, aperture="f/11", iso="100"))
    camera.begin(Order(frame=5, way="held", command_s=open_s))
    assert isinstance(box.get(), Opened)
    sys.stdout.write((folder / LOCK_NAME).read_text())
    sys.stdout.flush()
    time.sleep(600)


if __name__ == "__main__":
    main(Path(sys.argv[1]), float(sys.argv[2]), float(sys.argv[3]))
