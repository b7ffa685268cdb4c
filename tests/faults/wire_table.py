"""Puts a ladder on the wire through every trouble and prints what came of it: ``python -m tests.faults.wire_table``.

A few run at once, since they mostly wait; the exit code says whether any came to other than it may.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from tests.faults.troubles import TROUBLES
from tests.faults.wire import work
from tether.body.dialects import Dialect

DIALECTS: tuple[Dialect, ...] = ("eos", "nikon")
AT_ONCE = 4
_WITHIN_S = 900


def one(dialect: Dialect, name: str) -> int:
    """Put a ladder through one trouble, print what came of it, and return the exit code."""
    trouble = TROUBLES[name]
    with tempfile.TemporaryDirectory() as folder:
        came = work(
            Path(folder),
            dialect,
            faults=trouble.body,
            wire_faults=trouble.wire,
            how=trouble.how,
            times=trouble.times,
            strike=trouble.strike,
            gone_on_with="always" if trouble.gone_on_with else "never",
        )
        problems = came.problems(may_stop=trouble.may_stop) + came.settings_off()
        print(came.outcome_in_words())
        print("; ".join(problems) or "nothing lost, shutter shut")
    return 1 if problems else 0


def _row(place: tuple[Dialect, str]) -> tuple[Dialect, str, int, list[str]]:
    command = [sys.executable, "-m", "tests.faults.wire_table", "--one", *place]
    try:
        run = subprocess.run(command, stdout=subprocess.PIPE, text=True, timeout=_WITHIN_S, check=False)
    except subprocess.TimeoutExpired:
        return (*place, 1, ["", f"did not end within {_WITHIN_S} s"])
    return (*place, run.returncode, run.stdout.splitlines())


def main(named: list[str]) -> int:
    """Print the table and return the exit code."""
    places = [(dialect, name) for name in TROUBLES for dialect in DIALECTS if not named or name in named]
    print(f"{'trouble':36} {'dialect':8} {'outcome':58} what was found")
    failed = 0
    with ThreadPoolExecutor(AT_ONCE) as pool:
        for dialect, name, code, said in pool.map(_row, places):
            outcome, found = [*said, "", ""][:2]
            failed += code != 0
            print(f"{name:36} {dialect:8} {outcome[:58]:58} {'' if code == 0 else 'WRONG: '}{found}", flush=True)
    print(f"{len(places) - failed} of {len(places)} as they may be")
    return 1 if failed else 0


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--one", nargs=2, metavar=("DIALECT", "TROUBLE"))
    parser.add_argument("named", nargs="*", help="only these troubles")
    asked = parser.parse_args()
    sys.exit(one(*asked.one) if asked.one else main(asked.named))
