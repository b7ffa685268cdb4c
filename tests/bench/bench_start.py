"""How soon a command is there, beside an empty click program and bare Python in the same run. Run by `make bench`.

Goals: `--version` within 1.5 times the empty program, help and each Tab within 2.5 times, a ladder within 0.35 s.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROUNDS = 15
ROOT = Path(__file__).parents[2]
PLAN = str(ROOT / "profiles/plans/demo.toml")
EMPTY = "import click\n@click.command()\n@click.version_option('1')\ndef empty(): pass\nempty()\n"
TETHER = [sys.executable, "-m", "tether.command"]


def tab(line: str) -> dict[str, str]:
    """Return the environment by which a shell asks what could follow a line."""
    return {"_TETHER_COMPLETE": "bash_complete", "COMP_WORDS": line, "COMP_CWORD": str(line.count(" "))}


def took_s(command: list[str], environment: dict[str, str]) -> float:
    """Return how long a command takes, with its output thrown away [s]."""
    began = time.perf_counter()
    subprocess.run(command, env={**os.environ, **environment}, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - began


def main() -> None:
    """Start each in turn, many times over, and print the medians."""
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


if __name__ == "__main__":
    main()
