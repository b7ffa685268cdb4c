"""Strike at a running ladder at a chosen moment, let it heal, and have it gone on with where it can't by itself.

The run is the real one: guard, run process, camera process, simulated body, at a fast pace; desk and page where they
are to be struck. What came of it is read by :mod:`tests.faults.found`, from the outing and the camera's record.
"""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal, Protocol

from tests.command.terminal import Terminal
from tests.faults.found import Left
from tests.plan.plans import HEAD
from tether.body.connection import SIMULATED, Connection
from tether.body.process import LOCK_NAME
from tether.control.client import Face, GoneError
from tether.control.registry import running
from tether.errors import TetherError
from tether.journal.records import FrameOpened, LadderEnded, Record, RungBegun, StateChanged
from tether.journal.telling import read_outing
from tether.service.launch import give_plan, start_guard

Target = Literal["camera process", "run process", "guard", "analysis", "desk", "page"]
Sent = Literal["SIGKILL", "SIGTERM", "SIGSEGV", "SIGSTOP"]
Moment = Literal[
    "waiting", "settling", "applying", "opening", "early open", "late open", "closing", "fetching", "between"
]
TARGETS: tuple[Target, ...] = ("camera process", "run process", "guard")
FACES: tuple[Target, ...] = ("analysis", "desk", "page")
SENT: tuple[Sent, ...] = ("SIGKILL", "SIGTERM", "SIGSEGV", "SIGSTOP")
MOMENTS: tuple[Moment, ...] = (
    "waiting", "settling", "applying", "opening", "early open", "late open", "closing", "fetching", "between"
)  # fmt: skip
#: Real seconds within which a struck run must have healed and come to its end; a fetch may take five minutes before it
#: counts as hanging.
HEALS_WITHIN_S = 420.0
#: Real seconds that a run which nothing is left to heal is given to show that it does not go on by itself.
LEFT_ALONE_S = 8.0
#: How long is waited for a process that is to be struck, such as the one that reads the frame just copied [s].
THERE_WITHIN_S = 10.0
#: Real seconds that a run whose ladder is over may take to bring all home and end.
ENDS_WITHIN_S = 60.0
#: How late a shutter may shut whose camera process was left alone, on a machine that is busy [real s].
LATE_S = 2.0
#: Real seconds of silence after which the guard takes the run process to hang, in these tests.
SILENT_S = 12.0
PACE = 60.0
#: The rung that is struck: the second, held, through a filter.
STRUCK_RUNG = 2
PLAN = f"""{HEAD}
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
WORLD = "[sensor]\nwindow_px = [240, 160]\n"
_STATES = {
    "waiting": "your turn",
    "settling": "settling",
    "applying": "setting",
    "opening": "opening",
    "fetching": "fetching",
}
#: How each process is known in the list of processes.
_MODULES: dict[Target, str] = {
    "camera process": "tether.body.process",
    "run process": "tether.service.process",
    "guard": "tether.guard",
    "analysis": "tether.frames.reading",
    "desk": "tether.command desk",
    "page": "tether.command page",
}


class Act(Protocol):
    """Something that is done to a run when the moment has come; says whether it could be done."""

    def __call__(self, outing: Path, /) -> bool: ...


@dataclass(frozen=True, kw_only=True)
class Strike:
    """One signal sent to processes at one moment."""

    targets: tuple[Target, ...]
    sent: Sent
    moment: Moment = "early open"

    def __str__(self) -> str:
        return f"{self.sent} {' and '.join(self.targets)}, {self.moment}"

    def __call__(self, outing: Path) -> bool:
        there = _all_there(outing, self.targets)
        for target in self.targets:
            for pid in there[target]:
                _send(pid, signal.Signals[self.sent])
        return all(there[target] for target in self.targets)

    @property
    def heals(self) -> bool:
        """Whether what is left brings the ladder to its end without a person."""
        if self.sent == "SIGTERM":  # to guard and run process it is a wish: closed and kept
            return not {"guard", "run process"} & set(self.targets)
        return not self.leaves_nobody

    @property
    def leaves_nobody(self) -> bool:
        """Whether nothing is left that could bring it to an end."""
        return {"guard", "run process"} <= set(self.targets) and self.sent != "SIGTERM"


@dataclass(frozen=True, kw_only=True)
class Went:
    """How it went: what is left, whether it was struck, and the exit codes of the run and of its going on.

    `by_itself` is how it had ended before a person went on with it.
    """

    left: Left
    struck: bool
    code: int | None
    again: int | None = None
    by_itself: str = "done"
    said: str = ""

    def problems(self, *, heals: bool = True, in_time: bool = True) -> list[str]:
        """Return in sentences what is not as it must be.

        `heals`: it had to come to its end without a person. `in_time`: every shutter had to shut when it was to.
        """
        found = [] if self.struck else ["the moment to strike never came"]
        if heals and self.again is not None:
            found.append(f"it did not heal by itself but ended as {self.by_itself!r}")
        if self.again not in (None, 0):
            found.append(f"gone on with, it ended with exit code {self.again}: {self.said}")
        if in_time and self.left.late_s() > LATE_S:
            found.append(f"a shutter shut {self.left.late_s():.1f} s late")
        return found + self.left.lost() + self.left.unfinished()


@dataclass(frozen=True, kw_only=True)
class Setting:
    """What is run, and beside what.

    Attributes
    ----------
    plan, world
        The texts of both.
    reach, pace
        How the body is reached, and the seconds of the run in a real one.
    faces
        Which faces are attached.
    elsewhere
        Where the simulated body keeps its card and record; None: in the outing.
    rung
        The rung that is struck.
    """

    plan: str = PLAN
    world: str = WORLD
    reach: Connection = SIMULATED
    pace: float = PACE
    faces: tuple[Target, ...] = ()
    elsewhere: Path | None = None
    rung: int = STRUCK_RUNG


def strike(root: Path, what: Strike) -> Went:
    """Run a short ladder, strike once, and wait until it is over; it is gone on with where nothing is left to heal."""
    faces = tuple(one for one in ("desk", "page") if one in what.targets)
    # Faces take a while to come up: the rung after is struck then.
    setting = Setting(faces=faces, rung=STRUCK_RUNG + 1 if faces else STRUCK_RUNG)
    return work(root, what, what.moment, setting, nobody_left=what.leaves_nobody)


def work(
    root: Path,
    act: Act,
    moment: Moment,
    setting: Setting,
    *,
    nobody_left: bool = False,
    mend: Callable[[], None] = lambda: None,
) -> Went:
    """Run a ladder, act once at a moment, wait until it is over, and go on with it where it was not done.

    `nobody_left`: nothing is left that could bring it to an end. `mend`: what a person does before going on.
    """
    root.mkdir(parents=True, exist_ok=True)
    plan, world, outing = root / "struck.toml", root / "world.toml", root / "outing"
    plan.write_text(setting.plan)
    world.write_text(setting.world)
    if setting.elsewhere is not None:
        setting.elsewhere.mkdir()
        outing.mkdir(exist_ok=True)
        (outing / "simulated-body").symlink_to(setting.elsewhere)
    give_plan(plan, pace=setting.pace, root=root, outing=outing, world=world, reach=setting.reach, answer_for_me=True)
    guard = start_guard(outing, silent_s=SILENT_S)
    with ExitStack() as stack:
        stack.callback(end_all, outing)
        beside = Beside(outing, setting.faces, stack)
        struck = _follow(outing, _Watcher(act, moment, setting.rung, beside), guard, nobody_left=nobody_left)
        code = None if nobody_left else _ended(guard)
        mend()
    left = Left(outing, setting.pace)
    if left.is_done:
        return Went(left=left, struck=struck, code=code)
    by_itself = f"{left.outcome}: {left.last_sentence}"
    again = go_on(outing)
    guard.poll()
    return Went(
        left=Left(outing, setting.pace),
        struck=struck,
        code=code,
        again=again.returncode,
        by_itself=by_itself,
        said=" ".join(again.stderr.split())[-300:],
    )


def go_on(outing: Path) -> subprocess.CompletedProcess[str]:
    """Go on with an outing's ladder as a person does, and wait until it is over."""
    command = (sys.executable, "-P", "-m", "tether.command", "run", str(outing))
    try:
        return subprocess.run(
            command, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=HEALS_WITHIN_S, check=False
        )
    finally:
        end_all(outing)


@dataclass
class Beside:
    """The faces that are attached to a run once it has come up; they end with the stack."""

    outing: Path
    faces: tuple[Target, ...]
    stack: ExitStack
    attached: list[Terminal] = field(default_factory=list)

    def attach(self) -> None:
        """Attach those that are not attached."""
        for face in self.faces[len(self.attached) :]:
            port = ("--page-port", str(_free_port())) if face == "page" else ()
            one = self.stack.enter_context(Terminal(self.outing.parent, face, str(self.outing), *port))
            self.attached.append(one)
            one.wait_for("http" if face == "page" else "TETHER")
            one.read_on()


def _ended(guard: subprocess.Popen[bytes]) -> int | None:
    """Return the exit code of a guard that has ended or is about to; None where it was ended for it."""
    with contextlib.suppress(subprocess.TimeoutExpired):
        guard.wait(ENDS_WITHIN_S)
    return guard.returncode


def _follow(outing: Path, watcher: _Watcher, guard: subprocess.Popen[bytes], *, nobody_left: bool) -> bool:
    """Follow the run to its end, across restarts; return whether it was acted on."""
    until_s = time.monotonic() + HEALS_WITHIN_S
    while time.monotonic() < until_s:
        if watcher.acted and (guard.poll() is not None or _over(outing)):
            break
        if watcher.acted and nobody_left and time.monotonic() > watcher.acted_s + LEFT_ALONE_S:
            break
        try:
            face = Face.attach(next(one.socket for one in running() if one.outing == outing.resolve()))
        except (StopIteration, TetherError):
            if guard.poll() is not None:
                break
            time.sleep(0.1)
            continue
        try:
            watcher.beside.attach()
            if _watch(face, watcher, until_s, nobody_left=nobody_left):
                break
        except GoneError:
            continue
        finally:
            face.close()
    return watcher.found_all


def _watch(face: Face, watcher: _Watcher, until_s: float, *, nobody_left: bool) -> bool:
    """Act when the moment has come; return whether the ladder is over, or nothing is left to bring it on."""
    while time.monotonic() < until_s:
        event = face.next(0.5)
        if isinstance(event, LadderEnded) or face.snapshot.over:
            return True
        if event is not None and not watcher.acted and watcher.has_come(event, face):
            watcher.do()
        if watcher.acted and nobody_left and time.monotonic() > watcher.acted_s + LEFT_ALONE_S:
            return True
    return True


class _Watcher:
    """Knows when the moment to act has come, and acts once."""

    def __init__(self, act: Act, moment: Moment, struck_rung: int, beside: Beside) -> None:
        self.beside = beside
        self.acted = False
        self.found_all = False
        self.acted_s = 0.0
        self._act = act
        self._moment = moment
        self._struck_rung = struck_rung
        self._rung = 0

    def do(self) -> None:
        self.acted = True
        self.found_all = self._act(self.beside.outing)
        self.acted_s = time.monotonic()

    def has_come(self, event: Record, face: Face) -> bool:
        if isinstance(event, RungBegun):
            self._rung = event.rung
            return self._moment == "between" and event.rung == self._struck_rung + 1
        if self._rung != self._struck_rung:
            return False
        if isinstance(event, FrameOpened):
            return self._wait_in_open(event, face)
        return isinstance(event, StateChanged) and event.state == _STATES.get(self._moment)

    def _wait_in_open(self, event: FrameOpened, face: Face) -> bool:
        """Wait, on the run's clock, for the part of the exposure that is meant."""
        part = {"early open": 0.1, "late open": 0.85, "closing": 0.999}.get(self._moment)
        if part is None:
            return False
        at_ns = event.at_ns + round((event.closes_at_ns - event.at_ns) * part)
        face.hello.clock.wait_until(at_ns)
        return True


def _over(outing: Path) -> bool:
    try:
        told = read_outing(outing).ladders
    except TetherError:
        return False
    return bool(told) and told[-1].outcome == "done"


# Processes


def processes(outing: Path) -> dict[Target, list[int]]:
    """Return the processes of an outing's run and its faces, by what they are."""
    held = _holders(outing)
    ours = [(pid, words) for pid, words in _all() if pid in held or _is_of(pid, words, outing)]
    return {target: [pid for pid, words in ours if module in words] for target, module in _MODULES.items()}


def _all_there(outing: Path, targets: Sequence[Target]) -> dict[Target, list[int]]:
    """Return the processes once all that are meant are there, or as they are after a while."""
    until_s = time.monotonic() + THERE_WITHIN_S
    while True:
        there = processes(outing)
        if all(there[target] for target in targets) or time.monotonic() > until_s:
            return there
        time.sleep(0.01)


def _holders(outing: Path) -> set[int]:
    """Return the camera processes that hold a body; one whose run is gone has nobody else who names it."""
    texts = [lock.read_text() for lock in outing.glob(f"*/{LOCK_NAME}")]
    return {int(text) for text in texts if text.strip().isdigit()}


def _all() -> Iterator[tuple[int, str]]:
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            with contextlib.suppress(OSError):
                words = (entry / "cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace")
                if "tether." in words:
                    yield int(entry.name), words


def _is_of(pid: int, words: str, outing: Path) -> bool:
    """Say whether a process is of an outing's run: it names it, or one that does has started it."""
    seen = 0
    while pid > 1 and seen < 4:
        if str(outing) in words:
            return True
        try:
            pid = int((Path("/proc") / str(pid) / "stat").read_text().rpartition(")")[2].split()[1])
            words = (Path("/proc") / str(pid) / "cmdline").read_bytes().decode(errors="replace")
        except (OSError, ValueError):
            return False
        if "tests.faults" in words or "pytest" in words:
            return False
        seen += 1
    return False


def end_all(outing: Path) -> None:
    """End whatever of the run is left, so that none of it stays and another can go on; guards first."""
    order: Sequence[Target] = ("guard", "run process", "camera process", "analysis")
    for _ in range(2):
        there = processes(outing)
        for target in order:
            for pid in there[target]:
                _send(pid, signal.SIGKILL)
        time.sleep(0.2)


@contextmanager
def all_stopped(outing: Path) -> Iterator[None]:
    """Have every process of a run stand still for the block."""
    pids = [pid for found in processes(outing).values() for pid in found]
    for pid in pids:
        _send(pid, signal.SIGSTOP)
    try:
        yield
    finally:
        for pid in pids:
            _send(pid, signal.SIGCONT)


def suspended_for(seconds: float) -> Act:
    """Return what has every process of a run stand still for so long [s]."""

    def suspend(outing: Path) -> bool:
        with all_stopped(outing):
            time.sleep(seconds)
        return True

    return suspend


def _send(pid: int, what: signal.Signals) -> None:
    with contextlib.suppress(ProcessLookupError):
        os.kill(pid, what)


def _free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])
