"""How late a shutter shuts whose run and camera process were both killed in a hold: ``python -m tests.faults.killed``.

The run is the real one at the real pace; what the body itself wrote down is when it shut. Late is counted from the
moment at which the close was due, or from the kill where that came later.
"""

from __future__ import annotations

import argparse
import os
import signal
import statistics
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from tests.body.choices import really
from tests.faults.harness import end_all
from tests.faults.ladder import body_text, plan_text
from tether.body.connection import Connection
from tether.body.process import LOCK_NAME
from tether.control.client import Face
from tether.control.registry import Running, running
from tether.errors import TetherError
from tether.journal.records import FrameOpened
from tether.journal.telling import read_outing
from tether.service.launch import give_plan, start_guard

First = Literal["run process", "camera process"]
FIRST: tuple[First, ...] = ("run process", "camera process")
#: The hold that is struck [s].
HELD_S = 4.0
#: What may pass between the later of plan and kill, and the shutter's being shut, on an idle machine [s].
LATE_S = 2.0
_WITHIN_S = 120.0
_WORLD = """
open_delay_s = 0.0
close_delay_s = 0.0
delay_jitter_s = 0.0
[sensor]
window_px = [120, 120]
[latency]
apply_s = 0.0
accept_s = 0.0
card_s = 0.1
"""


CONNECTIONS = (Connection(), Connection(way="wire", dialect="eos"), Connection(way="wire", dialect="nikon"))


def name_of(reach: Connection) -> str:
    """Return a way to reach the body in words."""
    return "simulated" if reach.way == "simulated" else f"on the wire, {reach.dialect}"


@dataclass(frozen=True, kw_only=True)
class Killed:
    """What came of it: how late the shutter shut [s], how the ladder ended, and what the journal says of the frame."""

    late_s: float
    outcome: str
    notes: tuple[str, ...]


def kill_both(root: Path, reach: Connection, *, part: float, first: First = "run process") -> Killed:
    """Run a ladder of one hold, kill both processes once `part` of the hold is over, and wait for its end."""
    root.mkdir(parents=True, exist_ok=True)
    body, plan, world = root / "body.toml", root / "plan.toml", root / "world.toml"
    body.write_text(body_text(reach.dialect))
    plan.write_text(plan_text("Killed in a hold", body, times=[f"{HELD_S:g}"], base="1/4"))
    world.write_text(_WORLD)
    given = give_plan(plan, pace=1.0, root=root, outing=root / "outing", world=world, reach=reach, answer_for_me=True)
    guard = start_guard(given.outing)
    try:
        due_ns, killed_ns = _strike(given.outing, _camera_folder(given.outing, reach), part, first)
        shut_ns = _shut_ns(given.outing / "simulated-body")
        guard.wait(_WITHIN_S)
    finally:
        end_all(given.outing)
        guard.wait()
    ladder = read_outing(given.outing).ladders[-1]
    notes = tuple(note for frame in ladder.frames for note in frame.notes)
    return Killed(late_s=(shut_ns - max(due_ns, killed_ns)) / 1e9, outcome=ladder.outcome, notes=notes)


def _camera_folder(outing: Path, reach: Connection) -> Path:
    return outing / ("simulated-body" if reach.way == "simulated" else "camera")


def _strike(outing: Path, camera: Path, part: float, first: First) -> tuple[int, int]:
    """Kill both in the hold; return when its close was due and when they were killed [ns]."""
    run = _running(outing)
    face = Face.attach(run.socket)
    try:
        while not isinstance(event := face.next(_WITHIN_S), FrameOpened):
            pass
        face.hello.clock.wait_until(event.at_ns + round((event.closes_at_ns - event.at_ns) * part))
        pids = {"run process": run.pids["run process"], "camera process": int((camera / LOCK_NAME).read_text())}
        for pid in (pids.pop(first), *pids.values()):
            os.kill(pid, signal.SIGKILL)
        return event.closes_at_ns, time.monotonic_ns()
    finally:
        face.close()


def _running(outing: Path) -> Running:
    until_s = time.monotonic() + _WITHIN_S
    while time.monotonic() < until_s:
        for one in running():
            if one.outing == outing.resolve():
                return one
        time.sleep(0.02)
    raise TetherError("the run has not come up")


def _shut_ns(folder: Path) -> int:
    """Return when the body says that its one shutter opening ended [ns]."""
    until_s = time.monotonic() + _WITHIN_S
    while time.monotonic() < until_s:
        if closed := really(folder, "closed"):
            return int(closed[0]["at_ns"])
        time.sleep(0.02)
    raise TetherError("the shutter has not shut")


def main(tries: int) -> int:
    """Print how late it was, each way; return 1 where that was too late."""
    return int(max(_row(reach, part, tries) for reach in CONNECTIONS for part in (0.3, 0.97)) > LATE_S)


def _row(reach: Connection, part: float, tries: int) -> float:
    """Print how late it was one way, and return the latest [s]."""
    late_s = []
    for number in range(tries):
        with tempfile.TemporaryDirectory() as folder:
            late_s.append(kill_both(Path(folder), reach, part=part, first=FIRST[number % 2]).late_s)
    middle_s, most_s = statistics.median(late_s), max(late_s)
    killed = f"killed at {part:4.0%} of {HELD_S:g} s"
    print(
        f"{name_of(reach):20} {killed}: {middle_s:5.2f} s late (median), {most_s:5.2f} s at most of {tries}", flush=True
    )
    return most_s


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tries", type=int, default=4)
    raise SystemExit(main(parser.parse_args().tries))
