"""Measures what the desk and the page cost: a hold's exactness with both attached, their processor time and memory.

Holds of 50 ms by the real camera process: with nothing attached; with the real desk (in a terminal, counting down) and
the real page (read by one listener); with these while pictures of 24 megapixels are prepared for choosing. All in the
same run. Then a whole run, spoken to through the driver, while it holds for half a minute: processor time and memory
(proportional set size) of each process, the desk having shown a picture.

::

    python -m tests.bench.bench_desk
"""

from __future__ import annotations

import contextlib
import os
import queue
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from tests.bench.bench_faces import off_ms, show
from tests.bench.bench_hold import ROUNDS, HeldCamera
from tests.bench.bench_readings import draw
from tests.command.terminal import Terminal
from tests.desk.rig import held
from tests.journal.shown import TellingServer
from tether.clock import AffineClock
from tether.control.client import Face
from tether.control.commands import Verb
from tether.control.messages import Facts
from tether.control.registry import announce, running, withdraw
from tether.desk.turn_screen import DEAF_S
from tether.journal.records import FrameOpened
from tether.report.crops_asked import Shown, prepare_line

GOAL_CPU = 3.0
GOALS_MB = {"camera": 25, "run": 60, "desk": 80}
OPEN_S = 40
PREPARED = 60
LOOKS_FOR_S = 20.0
_PORT = 18437
_LISTENS = """
import http.client, json, sys
link = sys.stdin.readline().strip()
at, _, token = link.removeprefix("http://").partition("/#")
own = {"Origin": f"http://{at}", "Content-Type": "application/json"}
line = http.client.HTTPConnection(at)
line.request("POST", "/enter", json.dumps({"token": token}), own)
cookie = line.getresponse().headers["Set-Cookie"].partition(";")[0]
def look(shown):
    line = http.client.HTTPConnection(at)
    line.request("GET", shown, headers={"Cookie": cookie})
    return line.getresponse()
for shown in sys.argv[1:]:
    look(shown).read()
answer = look("/events")
while answer.readline():
    print("heard", flush=True)
"""
PLAN = f"""
title = "Held"
darker_by = "nothing"
[body]
file = "simulated"
[lens]
focal_mm = 24
widest = "f/2.8"
narrowest = "f/22"
[base]
time = "1/125"
aperture = "f/8"
iso = 100
frames = 0
[rungs]
times = ["1/125", "{OPEN_S}"]
[run]
settle_s = 0
proof = false
[[filter]]
name = "Calder 12"
stops = 12.3
measured_stops = 12.3
"""


@contextlib.contextmanager
def page_read(outing: Path, looks_at: Sequence[str] = ()) -> Iterator[subprocess.Popen[str]]:
    """Have the page of an outing served, and read by one listener, who looks at some of its addresses first."""
    with contextlib.ExitStack() as leaving:
        page = subprocess.Popen(
            [sys.executable, "-m", "tether.command", "page", str(outing), "--page-port", str(_PORT)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        leaving.callback(_end, page)
        listener = subprocess.Popen(
            [sys.executable, "-c", _LISTENS, *looks_at], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        leaving.callback(_end, listener)
        assert page.stdout is not None
        assert listener.stdin is not None
        assert listener.stdout is not None
        listener.stdin.write(page.stdout.readline())
        listener.stdin.close()
        if not listener.stdout.readline():
            raise SystemExit("The page could not be listened to.")
        yield page


def _end(process: subprocess.Popen[str]) -> None:
    process.kill()
    process.wait()


@contextlib.contextmanager
def both(outing: Path) -> Iterator[None]:
    """Have the desk and the page attached."""
    with Terminal(outing.parent, "desk", str(outing)) as desk, page_read(outing):
        desk.wait_for("OPEN: frame 7")
        with read_away(desk):
            yield


def drawn(outing: Path) -> list[Shown]:
    """Draw frames of 24 megapixels in an outing, as many as are not prepared in the time that this takes."""
    for part in ("frames", "previews"):
        (outing / part).mkdir()
    frames = [Shown(frame=f"frames/{one}.dng", base="frames/0.dng", gains=(1.0, 1.0, 1.0)) for one in range(PREPARED)]
    draw(outing / frames[0].frame, (4000, 6000))
    for one in frames[1:]:
        (outing / one.frame).hardlink_to(outing / frames[0].frame)
    return frames


@contextlib.contextmanager
def prepares(outing: Path, frames: Sequence[Shown]) -> Iterator[subprocess.Popen[bytes]]:
    """Have pictures of frames prepared by the process that does it for faces; it stands still until it is continued."""
    words = (sys.executable, "-P", "-m", "tether.report.crops", str(outing))
    with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL) as process:
        assert process.stdin is not None
        process.stdin.write(prepare_line(frames))
        process.stdin.flush()
        try:
            while process.poll() is None and not list(outing.glob("previews/*")):
                time.sleep(0.1)  # it has loaded all by then
            process.send_signal(signal.SIGSTOP)
            yield process
        finally:
            process.kill()


@contextlib.contextmanager
def continued(process: subprocess.Popen[bytes]) -> Iterator[None]:
    """Have a process go on meanwhile."""
    process.send_signal(signal.SIGCONT)
    yield
    if process.poll() is not None:
        raise SystemExit("Pictures were not prepared until the end.")
    process.send_signal(signal.SIGSTOP)


@contextlib.contextmanager
def read_away(desk: Terminal) -> Iterator[None]:
    """Take from the terminal what the desk draws, as a screen does, in a process of its own."""
    reader = subprocess.Popen([sys.executable, "-c", "import os\nwhile os.read(0, 65536): pass"], stdin=desk._ours)
    try:
        yield
    finally:
        reader.kill()
        reader.wait()


def exactness() -> None:
    """Measure holds with and without faces, and print."""
    heard: queue.SimpleQueue[Verb] = queue.SimpleQueue()
    with tempfile.TemporaryDirectory() as folder, contextlib.ExitStack() as leaving:
        outing = Path(folder) / "held"
        outing.mkdir()
        path = announce(outing, "bench", {"guard": os.getpid()})
        leaving.callback(withdraw, path)
        clock = AffineClock.started_now(1.0)
        server = TellingServer(path, Facts(outing=str(outing), title="bench", simulated=True), clock, heard.put)
        leaving.callback(server.close)
        server.start()
        for event in held():
            if isinstance(event, FrameOpened) and event.way == "held":
                continue
            server.tell(event)
        now_ns, open_s = clock.now_ns(), 3600.0
        closes_ns = now_ns + round(open_s * 1e9)
        server.tell(
            FrameOpened(frame=7, rung=14, kind="rung", way="held", open_s=open_s, at_ns=now_ns, closes_at_ns=closes_ns)
        )
        camera = HeldCamera(Path(folder) / "camera", realtime=True)
        leaving.callback(camera.leave)
        pictures = leaving.enter_context(prepares(outing, drawn(outing)))
        found: dict[str, list[float]] = {"nothing": [], "desk and page": [], "those, and pictures prepared": []}
        for _ in range(ROUNDS):
            found["nothing"] += off_ms(camera, server)
            with both(outing):
                found["desk and page"] += off_ms(camera, server)
                with continued(pictures):
                    found["those, and pictures prepared"] += off_ms(camera, server)
        in_force = camera.in_force
        print(f"{len(list(outing.glob('previews/*')))} frames prepared meanwhile")
    show(found, in_force)


def costs() -> None:
    """Measure processor time and memory while a whole run holds, and print."""
    with tempfile.TemporaryDirectory() as text:
        folder = Path(text)
        (folder / "held.toml").write_text(PLAN)
        outing = folder / "here"
        words = ("rehearse", "held.toml", "--through-driver", "--outing", "here", "--detach")
        command = [sys.executable, "-m", "tether.command", *words]
        subprocess.run(command, cwd=folder, check=True, capture_output=True)
        with Terminal(folder, "desk", "here") as desk:
            desk.wait_for("Space or enter")
            time.sleep(DEAF_S + 0.2)
            desk.press(" ")
            desk.wait_for("OPEN: frame 2")
            desk.press("5")  # what a picture has needed stays loaded
            desk.wait_for("undecided")
            desk.press("4")
            desk.wait_for("OPEN: frame 2")
            with read_away(desk), page_read(outing) as page:
                time.sleep(2.0)
                (run,) = [one for one in running() if one.outing == outing.resolve()]
                pids = {
                    "run": run.pids["run process"],
                    "camera": child_of(run.pids["run process"], "tether.body.process"),
                    "desk": desk.process.pid,
                    "page": page.pid,
                }
                before = {name: cpu_s(pid) for name, pid in pids.items()}
                time.sleep(LOOKS_FOR_S)
                shares = {name: 100 * (cpu_s(pid) - before[name]) / LOOKS_FOR_S for name, pid in pids.items()}
                memory = {name: pss_mb(pid) for name, pid in pids.items()}
        with contextlib.closing(Face.attach(run.socket)) as face:
            face.say("drop everything")
        time.sleep(3.0)
    print(f"\nWhile a shutter is held through the driver, over {LOOKS_FOR_S:.0f} s")
    print(f"{'process':12}{'% of a core':>14}{'memory [MB]':>14}{'goal':>8}")
    for name, share in shares.items():
        print(f"{name:12}{share:14.2f}{memory[name]:14.1f}{GOALS_MB.get(name, '–'):>8}")
    both_cpu = shares["desk"] + shares["run"]
    print(f"Goal: desk and run together under {GOAL_CPU} %: {'met' if both_cpu < GOAL_CPU else 'MISSED'}")
    missed = [name for name, goal in GOALS_MB.items() if memory[name] > goal]
    print(f"Goals of memory: {'met' if not missed else 'MISSED: ' + ', '.join(missed)}")


def child_of(parent: int, module: str) -> int:
    for folder in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            fields = (folder / "stat").read_text().rpartition(")")[2].split()
            if int(fields[1]) == parent and module in (folder / "cmdline").read_text():
                return int(folder.name)
    raise SystemExit(f"The run has no process {module}.")


def cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def pss_mb(pid: int, what: str = "Pss") -> float:
    lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith(f"{what}:")) / 1024


if __name__ == "__main__":
    exactness()
    costs()
