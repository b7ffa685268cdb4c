"""Measures the memory of each process of a rehearsal while a shutter is held, beside empty Pythons in the same run.

Proportional set size: what a process has for itself, and its share of what it has in common with others; beside it the
resident set size, which it is at most, with nothing in common with anybody. Once on the
simulated body, which has rendered and handed over a frame by then; once through the driver, with a simulated camera on
the wire, for what a camera process takes with a real body. The rehearsal has made its base frames, shown water and rock
over one, and read the frame before; the page is read by one listener, who has looked at its pictures.

::

    python -m tests.bench.bench_memory
"""

from __future__ import annotations

import contextlib
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from tests.bench.bench_desk import PLAN, child_of, page_read, pss_mb
from tether.control.client import Face
from tether.control.registry import Running, running

GOALS_MB = {"guard": 6, "run": 60, "simulated camera": 120, "page": 50, "camera process, through the driver": 25}
_EMPTY = {"empty Python": "", "Python and numpy": "import numpy", "Python and pydantic": "import pydantic"}
_STAYS = "; import sys; print('here', flush=True); sys.stdin.read()"
SETTLES_S = 5.0
LOOKS_AT = ("/", "/regions.jpg", "/frames/1/preview.jpg", "/plots?w=800", "/frames/1/histogram.svg", "/candidates")


Mb = tuple[float, float]


def taken_mb(pid: int) -> Mb:
    """Return what a process takes, by proportion and at most [MB]."""
    return pss_mb(pid), pss_mb(pid, "Rss")


def empty_mb(imports: str) -> Mb:
    """Return what a Python takes that has loaded so much [MB]."""
    command = [sys.executable, "-c", (imports or "pass") + _STAYS]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        process.stdout.readline()
        return taken_mb(process.pid)


@contextlib.contextmanager
def holds(folder: Path, *how: str) -> Iterator[Running]:
    """Have a rehearsal hold its second frame."""
    (folder / "held.toml").write_text(PLAN.replace("frames = 0\n", "frames = 2\n"))
    words = ("rehearse", "held.toml", *how, "--outing", "here", "--answer-for-me", "--detach")
    subprocess.run([sys.executable, "-m", "tether.command", *words], cwd=folder, check=True, capture_output=True)
    (run,) = [one for one in running() if one.outing == (folder / "here").resolve()]
    try:
        with contextlib.closing(Face.attach(run.socket)) as face:
            while (shot := face.snapshot.open) is None or shot.way != "held":
                face.next(None)
        time.sleep(SETTLES_S)  # the frame before is read meanwhile
        yield run
    finally:
        with contextlib.closing(Face.attach(run.socket)) as face:
            face.say("drop everything")
        time.sleep(3.0)


def found_mb() -> dict[str, Mb]:
    """Return what each process takes [MB]."""
    found = {name: empty_mb(imports) for name, imports in _EMPTY.items()}
    with tempfile.TemporaryDirectory() as folder, holds(Path(folder)) as run, page_read(run.outing, LOOKS_AT) as page:
        time.sleep(2.0)
        run_pid = run.pids["run process"]
        found |= {
            "guard": taken_mb(run.pids["guard"]),
            "run": taken_mb(run_pid),
            "simulated camera": taken_mb(child_of(run_pid, "tether.body.process")),
            "page": taken_mb(page.pid),
        }
    with tempfile.TemporaryDirectory() as folder, holds(Path(folder), "--through-driver") as run:
        run_pid = run.pids["run process"]
        found |= {
            "run, through the driver": taken_mb(run_pid),
            "camera process, through the driver": taken_mb(child_of(run_pid, "tether.body.process")),
        }
    return found


def main() -> None:
    """Measure and print."""
    print(f"{'process':36}{'memory [MB]':>14}{'at most':>10}{'goal':>8}")
    for name, (found, most) in found_mb().items():
        goal = GOALS_MB.get(name)
        verdict = "" if goal is None else "met" if round(found) <= goal else "MISSED"
        print(f"{name:36}{found:14.1f}{most:10.1f}{goal or '':>8} {verdict}".rstrip())


if __name__ == "__main__":
    main()
