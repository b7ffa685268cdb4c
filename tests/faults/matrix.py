"""Runs the fault matrix and prints what came of each cell: ``python -m tests.faults.matrix``.

Cells mostly wait, so a few run at a time, each in a process and folders of its own. Without ``--all`` no cell is begun
after so many minutes, cells of all kinds by turns, and those that were not run are named.
"""

from __future__ import annotations

import argparse
import contextlib
import itertools
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections import defaultdict
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path

from tests.faults.cells import EXCEPTIONS, Cell, cells
from tests.faults.spoilt import IN_NAMESPACE, copy_left
from tether.errors import TetherError

#: How long is begun with cells, and how long one may take [s].
BEGUN_WITHIN_S = 34 * 60.0
_WITHIN_S = 900.0
AT_ONCE = 4
_OWN = "XDG_RUNTIME_DIR"


@dataclass(frozen=True, kw_only=True)
class Row:
    """A cell and what came of it."""

    cell: Cell
    problems: list[str]
    line: str
    exception: str | None
    took_s: float


def by_turns(of: Sequence[Cell]) -> list[Cell]:
    """Return cells in an order in which whatever is cut off at the end leaves some of every kind: spread by share."""
    kinds: dict[str, list[Cell]] = defaultdict(list)
    for cell in of:
        kinds[cell.kind].append(cell)
    placed = [
        ((number * _STRIDE % len(same)) / len(same), cell)
        for same in kinds.values()
        for number, cell in enumerate(same)
    ]
    return [cell for _, cell in sorted(placed, key=lambda one: one[0])]


#: A prime, so that neighbours of a kind, which are much alike, come far from one another.
_STRIDE = 61


def one(name: str) -> int:
    """Do one cell in this process, and print what came of it as JSON."""
    cell = next(cell for cell in cells() if cell.name == name)
    root = Path(os.environ[_OWN]) / "cell"
    try:
        came = asdict(cell.run(root))
    except (Exception, TetherError) as error:
        traceback.print_exc()
        came = {"problems": [f"the cell broke off: {type(error).__name__}: {error}"], "line": "", "exception": None}
    print(json.dumps(came))
    return 1 if came["problems"] else 0


def _row(cell: Cell, keep: Path | None) -> Row:
    own = Path(tempfile.mkdtemp(prefix="tf-"))
    folders = {_OWN: str(own)} | {f"XDG_{kind}_HOME": str(own / kind) for kind in ("CONFIG", "DATA", "STATE", "CACHE")}
    command = (
        *(IN_NAMESPACE if cell.namespace else ()),
        sys.executable,
        "-m",
        "tests.faults.matrix",
        "--one",
        cell.name,
    )
    began_s = time.monotonic()
    try:
        done = subprocess.run(
            command,
            env=os.environ | folders,
            capture_output=True,
            text=True,
            stdin=subprocess.DEVNULL,
            timeout=_WITHIN_S,
            check=False,
        )
        came = json.loads(done.stdout.splitlines()[-1])
    except subprocess.TimeoutExpired:
        came = {"problems": [f"it did not end within {_WITHIN_S:.0f} s"], "line": "", "exception": None}
    except (IndexError, ValueError):
        came = {"problems": [f"the cell broke off: {done.stderr[-300:]}"], "line": "", "exception": None}
    finally:
        _end_left(own)
    if keep is not None and came["problems"]:
        copy_left(own, keep / own.name)
        came["problems"].append(f"kept: {keep / own.name}")
    shutil.rmtree(own, ignore_errors=True)
    return Row(cell=cell, took_s=time.monotonic() - began_s, **came)


def _end_left(own: Path) -> None:
    """End what a cell left: every process that was started with its folder."""
    mark = f"{_OWN}={own}".encode()
    for entry in Path("/proc").iterdir():
        with contextlib.suppress(OSError):
            if entry.name.isdigit() and mark in (entry / "environ").read_bytes().split(b"\0"):
                os.kill(int(entry.name), signal.SIGKILL)


def main(words: argparse.Namespace) -> int:
    """Print the matrix and return the exit code."""
    asked = [
        cell for cell in cells() if not words.named or any(part in f"{cell.kind}: {cell.name}" for part in words.named)
    ]
    until_s = time.monotonic() + (float("inf") if words.all or words.named else BEGUN_WITHIN_S)
    if words.keep:
        words.keep.mkdir(parents=True, exist_ok=True)

    def do(cell: Cell) -> Row | str:
        if time.monotonic() > until_s:
            return "the time was over"
        return cell.why_not() or _row(cell, words.keep)

    began_s = time.monotonic()
    ordered = by_turns(asked)
    rows, left = [], []
    with ThreadPoolExecutor(words.jobs) as pool:
        for cell, row in zip(ordered, pool.map(do, ordered), strict=True):
            if isinstance(row, str):
                left.append((cell, row))
                continue
            rows.append(row)
            _print(row)
    _print_end(rows, left, time.monotonic() - began_s)
    return 1 if any(row.problems for row in rows) else 0


def _title(cell: Cell) -> str:
    return f"{cell.kind}: {cell.name}"


def _print(row: Row) -> None:
    verdict = "WRONG" if row.problems else "exception" if row.exception else "whole"
    print(f"{verdict:9} {row.took_s:4.0f} s  {_title(row.cell)}: {' '.join(row.line.split())}", flush=True)
    for problem in row.problems:
        print(f"{'':18}{problem}", flush=True)


def _print_end(rows: Sequence[Row], left: Iterable[tuple[Cell, str]], took_s: float) -> None:
    print("\nNot run:")
    not_run = [(why, cell) for cell, why in left]
    for why, same in itertools.groupby(sorted(not_run, key=lambda one: one[0]), key=lambda one: one[0]):
        names = [_title(cell) for _, cell in same]
        print(f"  {len(names)}, since {why}:")
        for name in names:
            print(f"    {name}")
    if not not_run:
        print("  none")
    print("\nExceptions:")
    for exception in EXCEPTIONS:
        used = [row.cell.name for row in rows if row.exception == exception]
        print(f"  {exception}: {'; '.join(used) or 'not made use of'}")
    wrong = sum(bool(row.problems) for row in rows)
    cost_s = sum(row.took_s for row in rows)
    print(f"\n{len(rows) - wrong} of {len(rows)} cells whole, {wrong} wrong, {len(not_run)} not run; ", end="")
    print(f"{took_s / 60:.0f} min, {cost_s / max(len(rows), 1):.0f} s a cell")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--all", action="store_true", help="every cell, however long it takes")
    parser.add_argument("--jobs", type=int, default=AT_ONCE, help="how many run at a time")
    parser.add_argument("--keep", type=Path, help="a folder that keeps what wrong cells left")
    parser.add_argument("--list", action="store_true", help="print the cells and run none")
    parser.add_argument("--one", help=argparse.SUPPRESS)
    parser.add_argument("named", nargs="*", help="only cells with one of these texts in their kind or name")
    given = parser.parse_args()
    if given.list:
        print("\n".join(_title(cell) for cell in by_turns(cells())))
        sys.exit(0)
    sys.exit(one(given.one) if given.one else main(given))
