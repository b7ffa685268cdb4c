"""Strike at a running ladder's processes at a chosen moment, let it heal, and look at what is left: the fault matrix.

The run is the real one: guard, run process, camera process, simulated body, at a fast pace. What the body itself wrote
down (`openings.jsonl`, its card) is the truth that the journal is held against.
"""

from __future__ import annotations

import json
import os
import signal
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from tests.journal.planned import rungs_of
from tests.plan.plans import HEAD
from tether.body.process import LOCK_NAME
from tether.control.client import Face, GoneError
from tether.control.registry import running
from tether.errors import TetherError
from tether.journal.records import FrameOpened, LadderEnded, Record, RungBegun, StateChanged
from tether.journal.story import LadderStory
from tether.journal.telling import read_outing
from tether.service.launch import give_plan, start_guard

Target = Literal["camera process", "run process", "guard"]
Moment = Literal[
    "waiting", "settling", "applying", "opening", "early open", "late open", "closing", "fetching", "between"
]
TARGETS: tuple[Target, ...] = ("camera process", "run process", "guard")
MOMENTS: tuple[Moment, ...] = (
    "waiting", "settling", "applying", "opening", "early open", "late open", "closing", "fetching", "between"
)  # fmt: skip
SIGNALS = {"SIGKILL": signal.SIGKILL, "SIGSTOP": signal.SIGSTOP}
#: Real seconds within which a struck run must have healed and come to its end; a fetch may take five minutes before it
#: counts as hanging.
HEALS_WITHIN_S = 420.0
#: Real seconds of silence after which the guard takes the run process to hang, in these tests.
SILENT_S = 6.0
PACE = 60.0
#: The rung that is struck: the second, held, through a filter.
STRUCK_RUNG = 2
_PLAN = """
[base]
time = "1/125"
aperture = "f/8"
iso = 100
frames = 0
[rungs]
times = ["1/125", "4m", "5m"]
order = "short first"
[run]
settle_s = 60
proof = false
[[filter]]
name = "Calder 15"
stops = 15
measured_stops = 15.0
"""
_STATES = {
    "waiting": "your turn",
    "settling": "settling",
    "applying": "setting",
    "opening": "opening",
    "fetching": "fetching",
}


@dataclass(frozen=True, kw_only=True)
class Strike:
    """One thing done to one process at one moment."""

    target: Target
    sent: str
    moment: Moment

    def __str__(self) -> str:
        return f"{self.sent} {self.target}, {self.moment}"


@dataclass(frozen=True, kw_only=True)
class Healed:
    """What was left once the run was over."""

    ladder: LadderStory
    folder: Path
    struck: bool

    def problems(self) -> list[str]:
        """Return in sentences what is not as it must be after any strike; empty if all is well."""
        found = [] if self.struck else ["the moment to strike never came"]
        if self.ladder.outcome != "done":
            found.append(f"the ladder ended as {self.ladder.outcome!r}: {self.ladder.note}")
        wanted = {rung.rung: rung.frames for rung in rungs_of(self.ladder)}
        good = Counter(
            frame.rung
            for frame in self.ladder.frames
            if frame.outcome == "made" and frame.files and not any("not as asked" in note for note in frame.notes)
        )
        if good != wanted:
            found.append(f"good frames by rung are {dict(good)}, wanted were {wanted}")
        if any(frame.outcome.startswith("unknown") for frame in self.ladder.frames):
            found.append("a frame has no outcome")
        return found + self._against_the_body()

    def _against_the_body(self) -> list[str]:
        truth = (self.folder / "simulated-body" / "openings.jsonl").read_text()
        record = [json.loads(line) for line in truth.splitlines()]
        whats = Counter(line["what"] for line in record)
        card = {path.stem for path in (self.folder / "simulated-body" / "card").glob("*.json")}
        outing = read_outing(self.folder)
        files = [file for frame in self.ladder.frames for file in frame.files] + list(outing.loose_files)
        home = Counter(Path(file.card_name).stem for file in files)
        found = []
        if whats["opened"] != whats["closed"]:
            found.append(f"the body opened {whats['opened']} times and closed {whats['closed']} times")
        if set(home) != card:
            found.append(f"on the card are {sorted(card)}, at home {sorted(home)}")
        if any(count > 1 for count in home.values()):
            found.append("a frame came home twice")
        if outing.open_intents():
            found.append(f"without an outcome: {outing.open_intents()}")
        return found


def strike(root: Path, what: Strike) -> Healed:
    """Run a short ladder, strike once, and wait until it is over."""
    root.mkdir(parents=True, exist_ok=True)
    plan, world = root / "struck.toml", root / "world.toml"
    plan.write_text(HEAD + _PLAN)
    world.write_text("[sensor]\nwindow_px = [240, 160]\n")
    given = give_plan(plan, pace=PACE, root=root, outing=root / "outing", world=world, answer_for_me=True)
    guard = start_guard(given.outing, silent_s=SILENT_S)
    try:
        struck = _follow(given.outing, what, guard.pid)
    finally:
        end_all(given.outing, guard.pid)
        guard.wait()
    return Healed(ladder=read_outing(given.outing).ladders[-1], folder=given.outing, struck=struck)


def _follow(outing: Path, what: Strike, guard: int) -> bool:
    """Follow the run to its end, across restarts; return whether it was struck."""
    struck = False
    until_s = time.monotonic() + HEALS_WITHIN_S
    while time.monotonic() < until_s:
        try:
            face = Face.attach(next(one.socket for one in running() if one.outing == outing.resolve()))
        except (StopIteration, TetherError):
            if struck and _over(outing):
                return True
            time.sleep(0.1)
            continue
        try:
            watcher = _Watcher(face, what)
            while time.monotonic() < until_s:
                event = face.next(0.5)
                if isinstance(event, LadderEnded) or face.snapshot.over:
                    return struck
                if event is not None and not struck and watcher.has_come(event):
                    struck = True
                    os.kill(_pid(outing, what.target, guard), SIGNALS[what.sent])
        except GoneError:
            continue
        finally:
            face.close()
    return struck


class _Watcher:
    """Knows when the moment to strike has come."""

    def __init__(self, face: Face, what: Strike) -> None:
        self._face = face
        self._moment = what.moment
        self._rung = 0

    def has_come(self, event: Record) -> bool:
        if isinstance(event, RungBegun):
            self._rung = event.rung
            return self._moment == "between" and event.rung == STRUCK_RUNG + 1
        if self._rung != STRUCK_RUNG:
            return False
        if isinstance(event, FrameOpened):
            return self._wait_in_open(event)
        return isinstance(event, StateChanged) and event.state == _STATES.get(self._moment)

    def _wait_in_open(self, event: FrameOpened) -> bool:
        """Wait, on the run's clock, for the part of the exposure that is meant."""
        part = {"early open": 0.1, "late open": 0.85, "closing": 0.999}.get(self._moment)
        if part is None:
            return False
        at_ns = event.at_ns + round((event.closes_at_ns - event.at_ns) * part)
        self._face.clock.wait_until(at_ns)
        return True


def _pid(outing: Path, target: Target, guard: int) -> int:
    if target == "guard":
        return guard
    if target == "camera process":
        return int((outing / "simulated-body" / LOCK_NAME).read_text())
    return next(one.pids["run process"] for one in running() if one.outing == outing.resolve())


def _over(outing: Path) -> bool:
    try:
        told: Any = read_outing(outing).ladders
    except TetherError:
        return False
    return bool(told) and told[-1].outcome == "done"


def end_all(outing: Path, guard: int) -> None:
    """End whatever of the run is left, so that a failed strike leaves no process behind."""
    for one in running():
        if one.outing == outing.resolve():
            _kill(one.pids["run process"])
    time.sleep(0.2)
    _kill(guard)


def _kill(pid: int) -> None:
    try:
        os.kill(pid, signal.SIGKILL)
    except ProcessLookupError:
        return
