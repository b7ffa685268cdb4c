"""How soon a command is there, beside an empty click program and bare Python in the same run. Run by `make bench`.

Goals: `--version` within 1.5 times the empty program, help and each Tab within 2.5 times, a ladder within 0.35 s.
The desk's first whole screen, in a terminal, is held against one text by its library: within twice.
All start from compiled modules, as they lie where a program is installed.
"""

from __future__ import annotations

import compileall
import fcntl
import os
import pty
import select
import statistics
import struct
import subprocess
import sys
import tempfile
import termios
import time
from pathlib import Path

ROUNDS = 15
ROOT = Path(__file__).parents[2]
PLAN = str(ROOT / "profiles/plans/demo.toml")
EMPTY = "import click\n@click.command()\n@click.version_option('1')\ndef empty(): pass\nempty()\n"
ONE_TEXT = """
from textual.app import App
from textual.widgets import Static
class One(App):
    def compose(self):
        yield Static("painted")
One().run()
"""
PATIENCE_S = 60.0
TETHER = [sys.executable, "-m", "tether.command"]


def tab(line: str) -> dict[str, str]:
    """Return the environment by which a shell asks what could follow a line."""
    return {"_TETHER_COMPLETE": "bash_complete", "COMP_WORDS": line, "COMP_CWORD": str(line.count(" "))}


def took_s(command: list[str], environment: dict[str, str]) -> float:
    """Return how long a command takes, with its output thrown away [s]."""
    began = time.perf_counter()
    subprocess.run(command, env={**os.environ, **environment}, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - began


def painted_s(command: list[str], words: bytes, folder: Path) -> float:
    """Return how long it takes until words are on the screen of a terminal of 120 by 40 [s]."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 40, 120, 0, 0))
    env = {**os.environ, "TERM": "xterm-256color"}
    began, seen = time.perf_counter(), b""
    process = subprocess.Popen(
        command, cwd=folder, env=env, stdin=theirs, stdout=theirs, stderr=theirs, start_new_session=True
    )
    os.close(theirs)
    while words not in seen:
        if not select.select([ours], [], [], PATIENCE_S)[0]:
            raise SystemExit(f"{command} showed nothing.")
        seen += os.read(ours, 65536)
    took = time.perf_counter() - began
    process.kill()
    process.wait()
    os.close(ours)
    return took


def first_paints() -> None:
    """Open the desk and the program of one text in turn, many times over, and print the medians."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "one.py").write_text(ONE_TEXT)
        cases = {
            "program of one text": ([sys.executable, "one.py"], b"painted"),
            "tether desk PLAN": ([*TETHER, "desk", PLAN, "--simulated"], b"is being opened"),
            "tether desk": ([*TETHER, "desk"], b"No plan is open"),
        }
        taken: dict[str, list[float]] = {case: [] for case in cases}
        for _ in range(ROUNDS):
            for case, (command, words) in cases.items():
                taken[case].append(painted_s(command, words, folder))
    against_s = statistics.median(taken["program of one text"])
    for case, each in taken.items():
        median_s = statistics.median(each)
        print(f"{case:24} {median_s:6.3f} s, {median_s / against_s:4.1f} times the one text  goal: 2 times")


def main() -> None:
    """Start each in turn, many times over, and print the medians."""
    compileall.compile_dir(ROOT / "tether", quiet=1)
    with tempfile.TemporaryDirectory() as folder:
        empty = Path(folder) / "empty.py"
        empty.write_text(EMPTY)
        cases: list[tuple[str, list[str], dict[str, str], str]] = [
            ("bare Python", [sys.executable, "-c", ""], {}, ""),
            ("empty click program", [sys.executable, str(empty), "--version"], {}, ""),
            ("tether --version", [*TETHER, "--version"], {}, "goal: 1.5 times the empty one"),
            ("tether --help", [*TETHER, "--help"], {}, "goal: 2.5 times"),
            ("tether body try --help", [*TETHER, "body", "try", "--help"], {}, "goal: 2.5 times"),
            ("tether lad<Tab>", TETHER, tab("tether lad"), "goal: 2.5 times"),
            ("tether base --<Tab>", TETHER, tab("tether base --"), "goal: 2.5 times"),
            ("tether ladder PLAN", [*TETHER, "ladder", PLAN], {}, "goal: 0.35 s"),
        ]
        taken: dict[str, list[float]] = {name: [] for name, *_ in cases}
        for _ in range(ROUNDS):
            for name, command, environment, _goal in cases:
                taken[name].append(took_s(command, environment))
    against_s = statistics.median(taken["empty click program"])
    for name, _, _, goal in cases:
        median_s = statistics.median(taken[name])
        print(f"{name:24} {median_s:6.3f} s, {median_s / against_s:4.1f} times the empty one  {goal}".rstrip())
    first_paints()


if __name__ == "__main__":
    main()
