"""Measures what lies between a close and the next opening through the whole engine, beside a bare loop.

A ladder of held rungs without turns, each with another aperture and ISO, on a simulated camera on the wire. What is
measured is the camera's own record: from the arrival of the close command to that of the next opening. The bare loop
on python-gphoto2 sets the same values, holds as long, waits for the file and saves it, and does no more: it reads
nothing back, checks nothing, keeps no journal.

::

    python -m tests.bench.bench_between
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
from itertools import pairwise
from pathlib import Path

from tests.bench.bench_hold import at
from tests.bench.bench_wire import BARE_BEGIN, WINDOW_PX
from tests.body.driver.on_wire import on_wire
from tests.body.responder.observed import Observed, observed
from tests.faults.wire import Times, work

#: Held for 0.25 to 0.5 s: no waiting for what is not measured.
TIMES = Times(base="1/8", rungs=("0.3", "0.4", "0.5", "0.6", "0.8", "1", "1.3", "1.6"), longest="1/4")
RUNS = 3
GOAL_MORE_S = 0.10

_BARE = """
rungs = json.loads(sys.argv[4])
for frame, (aperture, iso, hold_s) in enumerate(rungs):
    put("aperture", aperture); put("iso", iso)
    put("eosremoterelease", "Press Full"); time.sleep(hold_s); put("eosremoterelease", "Release Full")
    kind = None
    while kind != gp.GP_EVENT_FILE_ADDED:
        kind, added = camera.wait_for_event(20)
    camera.file_get(added.folder, added.name, gp.GP_FILE_TYPE_NORMAL).save(f"{into}/{frame}.dng")
camera.exit()
"""


def between_s(seen: list[Observed]) -> list[float]:
    """Return what lay between each close and the next opening, as the camera saw them [s]."""
    held = [one for one in seen if one.held and one.closed_ns is not None]
    return [(after.opened_ns - before.closed_ns) / 1e9 for before, after in pairwise(held)]  # type: ignore[operator]


def through_engine(folder: Path) -> tuple[list[float], list[tuple[str, str, float]]]:
    """Work the ladder; return what lay between, and the rungs as (aperture, ISO, open [s])."""
    came = work(folder, "eos", times=TIMES, window_px=WINDOW_PX)
    if came.outcome != "done":
        raise SystemExit(f"The ladder ended as {came.outcome_in_words()}.")
    rungs = [
        ((frame.asked.aperture_label or "").removeprefix("f/"), frame.asked.iso_label or "", frame.open_s.asked or 0.0)
        for frame in came.ladder.frames
    ]
    return between_s(came.seen), rungs


def bare(folder: Path, rungs: list[tuple[str, str, float]]) -> list[float]:
    """Work the same rungs by a bare loop, and return what lay between."""
    with on_wire(folder, "eos", sensor={"window_px": WINDOW_PX}, latency={"card_s": 0.1}) as wire:
        command = [
            sys.executable,
            "-c",
            BARE_BEGIN + _BARE,
            wire.camera.path,
            wire.camera.model,
            str(folder),
            json.dumps(rungs),
        ]
        subprocess.run(command, check=True)
        return between_s(observed(wire.truth))


def main() -> None:
    """Measure and print."""
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter).parse_args()
    ours: list[float] = []
    loop: list[float] = []
    for _ in range(RUNS):
        with tempfile.TemporaryDirectory() as one, tempfile.TemporaryDirectory() as other:
            gaps, rungs = through_engine(Path(one))
            ours += gaps
            loop += bare(Path(other), rungs)
    ours.sort()
    loop.sort()
    print(f"close to next opening, {len(ours)} gaps [s]{'p50':>16}{'max':>10}")
    print(f"{'whole engine':36}{at(ours, 0.5):16.3f}{ours[-1]:10.3f}")
    print(f"{'bare loop':36}{at(loop, 0.5):16.3f}{loop[-1]:10.3f}")
    print(f"{at(ours, 0.5) - at(loop, 0.5):+.3f} s (goal at most +{GOAL_MORE_S})")


if __name__ == "__main__":
    main()
