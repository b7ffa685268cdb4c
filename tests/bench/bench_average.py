"""What averaging many frames takes beside decoding them alone, in time and memory. Run by `make bench`.

A frame of 24 megapixels, compressed without loss as bodies do it, drawn (in a process of its own) and taken 60 times.
Goals: 1.3 times the decoding; at its peak three mosaics of 16 bits and one in single precision above what was there.
"""

from __future__ import annotations

import multiprocessing
import resource
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.bench.bench_choosing import SHAPE, compress
from tests.bench.bench_readings import draw
from tether.files.raw import RawFrame, read_raw
from tether.frames.averaging import mean_of

FRAMES = 60
GOAL = 1.3
PIXELS = SHAPE[0] * SHAPE[1]
GOAL_MB = PIXELS * (3 * 2 + 4) / 1e6


def drawn(path: Path) -> None:
    """Draw a frame and compress it."""
    draw(path, SHAPE)
    compress(path)


def peak_mb() -> float:
    """Return the most memory that this process has held so far [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3


def takes_s(work: Callable[[Iterator[RawFrame]], None], paths: list[Path]) -> float:
    """Return the processor time of something that is given the frames one by one [s]; other load does not count."""
    began_s = time.process_time()
    work(read_raw(path) for path in paths)
    return time.process_time() - began_s


def main() -> None:
    """Print what decoding takes, and averaging, and what of memory."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "0.dng"
        drawing = multiprocessing.get_context("spawn").Process(target=drawn, args=(path,))
        drawing.start()
        drawing.join()
        paths = [path] * FRAMES
        before_mb = peak_mb()
        alone_s = takes_s(lambda frames: [None for _ in frames].clear(), paths)
        decoding_mb = peak_mb()
        mean_s = takes_s(lambda frames: print(f"{mean_of(frames).frames} frames"), paths)
    print(
        f"processor time: decoding {alone_s:.1f}, averaging {mean_s:.1f} s: {mean_s / alone_s:.2f} times (goal {GOAL})"
    )
    print(f"at the peak: before {before_mb:.0f}, decoding {decoding_mb:.0f}, averaging {peak_mb():.0f} MB", end="")
    print(f" (three mosaics of 16 bits and one in single precision: {GOAL_MB:.0f} MB)")


if __name__ == "__main__":
    main()
