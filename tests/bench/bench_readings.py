"""Measures what a frame's readings cost, and whether reading frames disturbs a hold.

A frame is read as in a ladder: its levels, those of the water alone, and against the base how bright, where and how
sharp its still parts are; two thirds of the picture are water, the upper third rock. Beside it stands the least that
reading a frame can be, in the same run and in turns: LibRaw's decoding and one bare histogram of all its pixels. The
frames are drawn: stones over nine stops, with noise, at 24 and 60 megapixels, written as our own uncompressed DNG, for
which decoding takes next to nothing; or a raw file that is given.

The holds are made by the real camera process with real-time scheduling, with and without frames being read one after
the other as a run has them read: each by a process of its own at low priority.

::

    python -m tests.bench.bench_readings               drawn frames
    python -m tests.bench.bench_readings FILE          a raw file
"""

from __future__ import annotations

import argparse
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import rawpy

from tests.bench.bench_hold import HOLDS, ROUNDS, HeldCamera, at
from tether.engine.analysis_queue import Reader
from tether.files.dng import SensorLevels, write_dng
from tether.files.exif import FrameExif
from tether.frames.asked import BaseAsked, FrameAnswer, FrameAsked
from tether.frames.reading import answer

SIZES_PX = {"24 megapixels": (4000, 6000), "60 megapixels": (6336, 9504)}
TIMES = 9
GOAL_RATIO = 1.3
GOAL_MS = 1.0
BLACK, WHITE = 512, 16383
STONE_PX = 16
_PEAK = """
import re, sys
from pathlib import Path
from tests.bench.bench_readings import WAYS
WAYS[sys.argv[1]](Path(sys.argv[2]), Path(sys.argv[3]))
print(re.search(r"VmHWM:\\s+([0-9]+) kB", Path("/proc/self/status").read_text())[1])
"""


def readings(path: Path, against: Path) -> None:
    """Read a frame as a run does."""
    _well(answer(FrameAsked(path=path, against=against, aperture=16, time_s=1.0)))


def bare(path: Path, against: Path) -> None:
    """Decode a frame and count its levels, all pixels alike."""
    with rawpy.imread(str(path)) as raw:
        np.bincount(raw.raw_image_visible.ravel())


def nothing(path: Path, against: Path) -> None:
    """Read nothing: what the interpreter and its libraries take."""


Way = Callable[[Path, Path], None]
WAYS: dict[str, Way] = {"readings": readings, "bare": bare, "nothing": nothing}


def base(path: Path, against: Path) -> None:
    """Keep what a frame is read against: itself."""
    rectangles = (("rock", 0.0, 0.0, 1.0, 1 / 3), ("water", 0.0, 1 / 3, 1.0, 1.0))
    _well(answer(BaseAsked(paths=(path,), keep=against, aperture=11, pitch_um=4, time_s=1 / 64, rectangles=rectangles)))


def _well(found: FrameAnswer) -> None:
    if found.problem:
        raise SystemExit(found.problem)


def draw(path: Path, shape: tuple[int, int]) -> None:
    """Write a frame of stones over nine stops, with shot and read noise."""
    rng = np.random.default_rng(1)
    height, width = shape
    down, across = np.linspace(0, 3, height)[:, None], np.linspace(0, 6, width)
    stones = np.kron(rng.uniform(0.7, 1.0, (height // STONE_PX, width // STONE_PX)), np.ones((STONE_PX, STONE_PX)))
    signal = (WHITE - BLACK) * 0.7 * stones * 2.0 ** -(down + across)
    noise = rng.standard_normal(shape, dtype=np.float32) * np.sqrt(0.42 * signal + 2.2)
    mosaic = np.clip(np.round(BLACK + signal + noise), 0, WHITE).astype(np.uint16)
    shot = FrameExif(
        time_s=1.0,
        aperture=11,
        iso=100,
        taken_at=datetime(2025, 10, 3, 18, 4, 5, tzinfo=UTC),
        make="Tether",
        model="Bench",
        serial="",
        lens="",
        software="tether",
        description="",
    )
    sensor = SensorLevels(black=BLACK, white=WHITE, as_shot_neutral=(0.5, 1.0, 0.8))
    write_dng(path, mosaic, shot=shot, sensor=sensor, preview=np.zeros((200, 300, 3), dtype=np.uint8))


def took_s(way: Way, path: Path, against: Path) -> float:
    """Return how much processor time it takes [s]: what else the machine does changes that least."""
    began = time.process_time()
    way(path, against)
    return time.process_time() - began


def peak_mb(way: str, path: Path, against: Path) -> float:
    """Return the most memory that a process of its own took [MB]; what getrusage says begins with its parent's."""
    command = [sys.executable, "-c", _PEAK, way, str(path), str(against)]
    return int(subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout) * 1024 / 1e6


def measure(name: str, path: Path, against: Path) -> None:
    """Print what a frame's readings take, beside the bare histogram."""
    bare(path, against)
    taken = [(took_s(readings, path, against), took_s(bare, path, against)) for _ in range(TIMES)]
    ours, least = (statistics.median(one) for one in zip(*taken, strict=True))
    memory = "".join(f"{peak_mb(way, path, against):10.0f}" for way in WAYS)
    verdict = "met" if ours <= GOAL_RATIO * least else "MISSED"
    print(f"{name:20}{ours:10.3f}{least:10.3f}{ours / least:8.2f} {verdict:8}{memory}")


def hold(name: str, path: Path, against: Path) -> None:
    """Print by how much holds are off, with and without frames being read."""
    alone: list[float] = []
    beside: list[float] = []
    read = 0
    with tempfile.TemporaryDirectory() as folder:
        camera = HeldCamera(Path(folder) / "camera", realtime=True)
        try:
            for _ in range(ROUNDS):
                alone += camera.off_ms(HOLDS // ROUNDS)
                off, frames = off_while_read(camera, path, against)
                beside += off
                read += frames
        finally:
            camera.leave()
    granted = "" if camera.in_force else " (real-time scheduling not granted)"
    for what, values in (("none read", alone), (f"{name}, {read} read", beside)):
        values.sort(key=abs)
        figures = (at(values, 0.5), at(values, 0.99), values[-1])
        print(f"{what:34}" + "".join(f"{abs(one):10.3f}" for one in figures))
    p99 = abs(at(beside, 0.99))
    verdict = "met" if p99 <= GOAL_MS else "MISSED"
    print(f"Goal: p99 at most {GOAL_MS} ms while frames are read: {verdict} ({p99:.3f} ms){granted}")


def off_while_read(camera: HeldCamera, path: Path, against: Path) -> tuple[list[float], int]:
    """Return by how much a round of holds was off [ms] with a frame being read all the while, and how many were."""
    reader, off, read = Reader(apart=True, against=against), [], 0
    reader.read(0, path)
    for _ in range(HOLDS // ROUNDS):
        off += camera.off_ms(1)
        if reader.done():
            read += 1
            reader.read(read, path)
    while reader.owes():
        time.sleep(0.01)
    return off, read + len(reader.done())


def main() -> None:
    parser = argparse.ArgumentParser(description="Measure the readings of frames.")
    parser.add_argument("file", nargs="?", type=Path, help="a raw file, in place of drawn frames")
    given: Path | None = parser.parse_args().file
    with tempfile.TemporaryDirectory() as folder:
        files = {given.name: given} if given else {name: Path(folder) / f"{name[:2]}.dng" for name in SIZES_PX}
        for name in SIZES_PX if given is None else ():
            draw(files[name], SIZES_PX[name])
        print(f"Readings of a frame [s of a processor], median of {TIMES}, beside decoding and a bare histogram")
        print(f"{'frame':20}{'readings':>10}{'bare':>10}{'ratio':>8} {'≤ ' + str(GOAL_RATIO):8}", end="")
        print("".join(f"{way:>10}" for way in WAYS) + "  [MB at most]")
        kept = {name: Path(folder) / f"{number}.npz" for number, name in enumerate(files)}
        for name, path in files.items():
            base(path, kept[name])
            measure(name, path, kept[name])
        print(f"|held - asked| in ms, {HOLDS} holds of 50 ms each, simulated body")
        print(f"{'frames':34}{'p50':>10}{'p99':>10}{'max':>10}")
        for name, path in files.items():
            hold(name, path, kept[name])


if __name__ == "__main__":
    main()
