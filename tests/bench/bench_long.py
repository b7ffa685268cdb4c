"""Measures a long outing, 300 rungs and 2,000 frames in one folder, beside one of 200 frames.

How soon the log, the desk's list of frames and the page have their first answer, each begun anew; and of desk and page,
attached to a run that has made so many frames, their memory (proportional set size) and what each further frame costs.
The journal is written through its own writer; the run is played; previews are small. Times are of
the processor, so that a busy machine counts for little; on an idle one they are the real ones. The desk is there before
it lists frames; how soon it is there is measured apart.

::

    python -m tests.bench.bench_long
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from PIL import Image

from tests.bench.bench_desk import cpu_s, page_read, pss_mb, read_away
from tests.command.terminal import Terminal
from tests.desk.rig import PlayedRun
from tests.journal.outings import (
    APERTURE,
    BASE_ISO,
    applied,
    frame_begun,
    frame_exposed,
    frame_fetched,
    planned_rung,
    run_started,
    write_outing,
)
from tests.journal.planned import a_ladder
from tests.journal.shown import exposed, home, readings, rung_ended
from tether.journal.planned import PlannedLadder
from tether.journal.records import FrameOpened, FrameRead, Kept, LadderBegun, LadderStarted, Record, RungBegun
from tether.journal.store import Journal

LONG, SHORT = (2000, 300), (200, 30)
GOAL_S = 1.0
#: Further frames that a run tells of while it is looked on.
MORE = 20
SETTLES_S = 4.0
#: A process that takes less than this in a second has little to do [s].
QUIET_S = 0.03
SAID = readings(water=(0.5, 0.0), off_stops=0.01, moved=(0.2, 0.1))


def planned(frames: int, rungs: int) -> PlannedLadder:
    """Return a ladder of so many rungs, all alike."""
    rung = [planned_rung(number, 0.125, "1/8", [], frames=frames // rungs) for number in range(1, rungs + 1)]
    base = {"time_s": 0.125, "time_label": "1/8", "aperture": APERTURE, "aperture_label": "f/11", "iso": BASE_ISO}
    return a_ladder(plan="Long", base=base, rungs=rung)


def stem_of(frame: int, rung: int) -> str:
    return f"weir_l1_r{rung:02d}_{frame:04d}_SIM_{frame:04d}"


def kept(frames: int, rungs: int) -> list[Record]:
    """Return what the journal keeps of a ladder that is still worked."""
    records: list[Record] = [
        run_started(),
        LadderStarted(ladder=1, title="Long", plan_text='title = "Long"\n', planned=planned(frames, rungs)),
    ]
    for frame in range(1, frames + 1):
        rung = _rung_of(frame, frames, rungs)
        records += kept_of(frame, rung)
        if rung != _rung_of(frame + 1, frames, rungs):
            records.append(rung_ended(rung))
    return records


def kept_of(frame: int, rung: int) -> list[Record]:
    """Return what the journal keeps of a frame."""
    eighth = applied(0.125, "1/8")
    read = FrameRead(frame=frame, readings=SAID)
    return [
        *frame_begun(frame, rung, eighth), frame_exposed(frame, None), *frame_fetched(frame, rung, eighth), read
    ]  # fmt: skip


def _rung_of(frame: int, frames: int, rungs: int) -> int:
    return 1 + (frame - 1) * rungs // frames


def shown(frame: int, rung: int) -> list[Record]:
    """Return what a run shows of a frame."""
    return [
        RungBegun(rung=rung, label="1/8 s", frames=1),
        FrameOpened(frame=frame, rung=rung, kind="rung", way="timed", open_s=0.125, at_ns=0, closes_at_ns=1),
        exposed(frame, rung),
        home(frame, f"{stem_of(frame, rung)}.dng"),
        FrameRead(frame=frame, readings=SAID),
    ]


def make_outing(folder: Path, frames: int, rungs: int) -> None:
    """Write an outing, with small previews."""
    write_outing(folder, kept(frames, rungs))
    previews = folder / "previews"
    previews.mkdir()
    Image.linear_gradient("L").resize((96, 64)).save(previews / "first.jpg")
    for frame in range(1, frames + 1):
        os.link(previews / "first.jpg", previews / f"{stem_of(frame, _rung_of(frame, frames, rungs))}.jpg")


def log_s(outing: Path) -> float:
    """Return how soon the log has its first line [s]."""
    command = [sys.executable, "-m", "tether.command", "log", str(outing)]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        process.stdout.readline()
        first_s = cpu_s(process.pid)
        process.stdout.read()
    return first_s


@dataclass
class Run:
    """A run that goes on: what it tells is played, and kept in the outing's journal."""

    played: PlayedRun
    journal: Journal
    frames: int
    rungs: int

    def makes(self, more: int) -> None:
        """Make further frames, all of the last rung."""
        for _ in range(more):
            self.frames += 1
            for record in kept_of(self.frames, self.rungs):
                assert isinstance(record, Kept)
                self.journal.add(record, utc=datetime.now(UTC), mono_ns=time.monotonic_ns())
            self.played.tell(*shown(self.frames, self.rungs))
            time.sleep(0.1)


@contextmanager
def going_on(outing: Path, frames: int, rungs: int) -> Iterator[Run]:
    """Have a run go on that has made so many frames."""
    with closing(Journal.open(outing)) as journal:
        played = PlayedRun(outing)
        try:
            played.tell(LadderBegun(planned=planned(frames, rungs)))
            for frame in range(1, frames + 1):
                played.tell(*shown(frame, _rung_of(frame, frames, rungs)))
            yield Run(played, journal, frames, rungs)
        finally:
            played.end()


def settled_s(pid: int) -> float:
    """Return how much processor time a process has taken once it has little to do [s]."""
    while True:
        before = cpu_s(pid)
        time.sleep(1.0)
        if cpu_s(pid) - before < QUIET_S:
            return cpu_s(pid)


def desk_of(run: Run, outing: Path) -> dict[str, float]:
    """Return what a desk takes: to attach, to show the list of frames, and for each further frame."""
    with Terminal(outing.parent, "desk", str(outing)) as desk:
        pid = desk.process.pid
        desk.wait_for(f"{run.frames} {run.rungs}")  # the last frame, in the run's own list
        first_s = cpu_s(pid)
        with read_away(desk):
            time.sleep(SETTLES_S)
            before_s = settled_s(pid)
        desk.press("5")
        desk.wait_for("keep")
        listed_s = cpu_s(pid) - before_s
        with read_away(desk):
            before_s, before_mb = settled_s(pid), pss_mb(pid)
            run.makes(MORE)
            each_s = (settled_s(pid) - before_s) / MORE
            return {
                "desk there [s]": first_s,
                "desk's list of frames [s]": listed_s,
                "desk, a further frame [s]": each_s,
                "desk [MB]": before_mb,
            }


def page_of(run: Run, outing: Path) -> dict[str, float]:
    """Return what the page takes: to its first answer, and for each further frame."""
    with page_read(outing) as page:
        first_s = cpu_s(page.pid)
        before_s = settled_s(page.pid)
        run.makes(MORE)
        each_s = (settled_s(page.pid) - before_s) / MORE
        return {"page's first answer [s]": first_s, "page, a further frame [s]": each_s, "page [MB]": pss_mb(page.pid)}


def found(frames: int, rungs: int) -> dict[str, float]:
    """Return all that is measured of an outing of so many frames."""
    with tempfile.TemporaryDirectory() as folder:
        outing = Path(folder) / "long"
        make_outing(outing, frames, rungs)
        log = {"log's first line [s]": log_s(outing)}
        with going_on(outing, frames, rungs) as run:
            return log | desk_of(run, outing) | page_of(run, outing)


def main() -> None:
    """Measure and print."""
    short, long = found(*SHORT), found(*LONG)
    print(f"{'':28}{SHORT[0]:>6} frames{LONG[0]:>6} frames")
    for name, value in long.items():
        print(f"{name:28}{short[name]:13.3f}{value:13.3f}")
    firsts = [long[name] for name in ("log's first line [s]", "desk's list of frames [s]", "page's first answer [s]")]
    print(f"Goal: each first answer within {GOAL_S:g} s: {'met' if max(firsts) <= GOAL_S else 'MISSED'}")


if __name__ == "__main__":
    main()
