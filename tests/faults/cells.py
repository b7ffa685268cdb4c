"""Every cell of the fault matrix, by its name: what is done to which ladder, and how that may end."""

from __future__ import annotations

import itertools
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from tests.command.terminal import Terminal
from tests.faults import killed, usb
from tests.faults.found import Left
from tests.faults.harness import (
    FACES,
    HEALS_WITHIN_S,
    MOMENTS,
    PACE,
    PLAN,
    SENT,
    TARGETS,
    WORLD,
    Act,
    Moment,
    Setting,
    Strike,
    Target,
    Went,
    end_all,
    strike,
    suspended_for,
    work,
)
from tests.faults.ladder import body_text, plan_text
from tests.faults.pairs import Row, covering
from tests.faults.spoilt import (
    GONE,
    READ_ONLY,
    SLOW,
    Spoilt,
    copy_left,
    disk_of_its_own,
    fill,
    make_room,
    small_disk,
    why_no_namespace,
    why_not_laid,
)
from tests.faults.troubles import TROUBLES, Trouble
from tests.faults.wire import SHORT
from tests.faults.wire import Strike as WireStrike
from tests.faults.wire import work as work_on_wire
from tether.body.connection import Connection
from tether.body.dialects import Dialect
from tether.control.client import Face
from tether.control.registry import running
from tether.journal.records import FrameOpened
from tether.journal.store import _WRITES_WITHIN_S, JOURNAL_NAME

#: Why a ladder may be left short after all that a person can do; nothing else is a reason.
Reason = Literal["body without power", "card removed or broken", "cable never back"]
EXCEPTIONS: tuple[Reason, ...] = ("body without power", "card removed or broken", "cable never back")
DIALECTS: tuple[Dialect, ...] = ("eos", "nikon")


#: How late a shutter may shut that both processes left open, with other cells running beside [s]; on an idle machine it
#: is `killed.LATE_S`.
_KILLED_LATE_S = 2 * killed.LATE_S


@dataclass(frozen=True, kw_only=True)
class Came:
    """What came of a cell: what is wrong, how it went in a line, and the exception that it made use of."""

    problems: list[str]
    line: str
    exception: Reason | None = None


@dataclass(frozen=True, kw_only=True)
class Cell:
    """One cell.

    Attributes
    ----------
    kind, name
        What it is of; the name is the cell's own.
    run
        Does it in a folder.
    why_not
        Says what is missing here to do it; None: nothing.
    namespace
        Whether it is given mounts of its own.
    """

    kind: str
    name: str
    run: Callable[[Path], Came]
    why_not: Callable[[], str | None] = field(default=lambda: None)
    namespace: bool = False


def cells() -> list[Cell]:
    """Return every cell, those of a kind together."""
    return [
        *_strikes(), *_both_killed(), *_around(), *_disks(), *_clocks(), *_troubles(), *_pairwise(), *_usb()
    ]  # fmt: skip


def _went(went: Went, *, heals: bool = True, in_time: bool = True) -> Came:
    again = "" if went.again is None else f"; {went.by_itself}; gone on with"
    return Came(
        problems=went.problems(heals=heals, in_time=in_time), line=f"code {went.code}, {went.left.summary()}{again}"
    )


# Processes


def _strikes() -> Iterator[Cell]:
    alone = [Strike(targets=(one,), sent=sent, moment=at) for one in TARGETS for sent in SENT for at in MOMENTS]
    alone += [Strike(targets=(one,), sent=sent, moment=_moment_of((one,))) for one in FACES for sent in SENT]
    pairs = itertools.combinations((*TARGETS, *FACES), 2)
    two = [Strike(targets=pair, sent=sent, moment=_moment_of(pair)) for pair in pairs for sent in SENT]
    groups = ((*TARGETS, *FACES), (*TARGETS, "desk", "page"))
    every = [Strike(targets=group, sent=sent, moment=_moment_of(group)) for group in groups for sent in SENT]
    core = [Strike(targets=TARGETS, sent=sent, moment=at) for sent in SENT for at in MOMENTS]
    for kind, strikes in (("one process", alone), ("two processes", two), ("all processes", [*every, *core])):
        for what in strikes:
            yield Cell(kind=kind, name=str(what), run=_struck(what))


def _moment_of(targets: Sequence[Target]) -> Moment:
    """Return when all of them are there: what reads a frame lives from when it is copied until it is read."""
    return "fetching" if "analysis" in targets else "early open"


def _struck(what: Strike) -> Callable[[Path], Came]:
    in_time = "camera process" not in what.targets
    return lambda root: _went(strike(root, what), heals=what.heals, in_time=in_time)


def _both_killed() -> Iterator[Cell]:
    for reach, first, part in itertools.product(killed.CONNECTIONS, killed.FIRST, (0.3, 0.97)):
        name = f"run and camera process killed at {part:.0%} of a hold, {first} first, {killed.name_of(reach)}"
        yield Cell(kind="both killed", name=name, run=_killed(reach, first, part))


def _killed(reach: Connection, first: killed.First, part: float) -> Callable[[Path], Came]:
    def run(root: Path) -> Came:
        came = killed.kill_both(root, reach, part=part, first=first)
        left = Left(root / "outing")
        problems = [] if came.late_s <= _KILLED_LATE_S else [f"the shutter shut {came.late_s:.2f} s late"]
        said = " ".join(came.notes)
        # A run that still saw its camera process die has written that down instead.
        if "It was open for between" not in said and not (first == "camera process" and "ended unexpectedly" in said):
            problems.append(f"how long the shutter was open is not said: {said}")
        return Came(problems=problems + left.lost() + left.unfinished(), line=f"{came.late_s:.2f} s late")

    return run


# What is around: terminal, journal, suspending


def _around() -> Iterator[Cell]:
    yield Cell(kind="around", name="terminal hung up in a hold", run=_hung_up)
    for moment in ("applying", "early open", "closing", "fetching"):
        for seconds in (3.0, 12.0):
            run = _acted(suspended_for(seconds), moment, in_time=False)
            yield Cell(kind="around", name=f"suspended for {seconds:.0f} s, {moment}", run=run)
        for seconds in (3.0, 30.0):
            run = _acted(_locked_for(seconds), moment, heals=seconds < _WRITES_WITHIN_S)
            yield Cell(kind="around", name=f"journal locked for {seconds:.0f} s, {moment}", run=run)


def _acted(act: Act, moment: Moment, *, heals: bool = True, in_time: bool = True) -> Callable[[Path], Came]:
    return lambda root: _went(work(root, act, moment, Setting()), heals=heals, in_time=in_time)


def _locked_for(seconds: float) -> Act:
    def lock(outing: Path) -> bool:
        locked = threading.Event()
        threading.Thread(target=_hold_lock, args=(outing / JOURNAL_NAME, seconds, locked), daemon=True).start()
        return locked.wait(5.0)

    return lock


def _hold_lock(path: Path, seconds: float, locked: threading.Event) -> None:
    db = sqlite3.connect(path, isolation_level=None, timeout=5.0)
    try:
        db.execute("BEGIN IMMEDIATE")
        locked.set()
        time.sleep(seconds)
        db.execute("ROLLBACK")
    finally:
        db.close()


def _hung_up(root: Path) -> Came:
    root.mkdir(parents=True, exist_ok=True)
    plan, world, outing = root / "struck.toml", root / "world.toml", root / "outing"
    plan.write_text(PLAN)
    world.write_text(WORLD)
    words = ("rehearse", plan, "--pace", f"{PACE:.0f}", "--answer-for-me", "--world", world, "--outing", outing)
    with Terminal(root, *map(str, words)) as terminal:
        while not (found := running()):
            time.sleep(0.05)
        terminal.read_on()
        face = Face.attach(found[0].socket)
        try:
            while not (isinstance(event := face.next(60.0), FrameOpened) and event.rung == 2):
                pass
            terminal.hang_up()
        finally:
            face.close()
        until_s = time.monotonic() + HEALS_WITHIN_S
        while running() and time.monotonic() < until_s:
            time.sleep(0.2)
        end_all(outing)
    left = Left(outing, PACE)
    return Came(problems=left.lost() + left.unfinished(), line=left.summary())


# Disk and clock: a ladder on the wire in real time, its camera's card elsewhere


def _on_wire(root: Path) -> Setting:
    body = root / "body.toml"
    body.write_text(body_text("eos"))
    return Setting(
        plan=plan_text("struck", body, times=("1/125", "2", "3"), base="1/15"),
        world="open_delay_s = 0.0\nclose_delay_s = 0.0\ndelay_jitter_s = 0.0\n[sensor]\nwindow_px = [120, 120]\n"
        "[latency]\napply_s = 0.0\naccept_s = 0.0\ncard_s = 0.1\n",
        reach=Connection(way="wire", dialect="eos"),
        pace=1.0,
        elsewhere=root / "camera",
    )


_STRUCK: tuple[Moment, ...] = ("applying", "early open", "fetching", "between")


def _disks() -> Iterator[Cell]:
    for moment in _STRUCK:
        yield Cell(
            kind="disk",
            name=f"disk full, {moment}, freed before it is gone on with",
            run=_filled(moment, free_after_s=None),
            why_not=why_no_namespace,
            namespace=True,
        )
        yield Cell(
            kind="disk",
            name=f"disk full, {moment}, freed after 6 s",
            run=_filled(moment, free_after_s=6.0),
            why_not=why_no_namespace,
            namespace=True,
        )
        for what, how in (("read-only", READ_ONLY), ("gone", GONE), ("slow", SLOW)):
            yield Cell(
                kind="disk",
                name=f"disk {what}, {moment}",
                run=_spoilt(moment, how, heals=what == "slow"),
                why_not=why_not_laid,
            )


def _filled(moment: Moment, *, free_after_s: float | None) -> Callable[[Path], Came]:
    def run(root: Path) -> Came:
        root.mkdir(parents=True)
        disk = small_disk(root)
        act = fill(disk)

        def filled(outing: Path) -> bool:
            if free_after_s is not None:
                threading.Timer(free_after_s, make_room, (disk,)).start()
            return act(outing)

        went = work(disk, filled, moment, _on_wire(root), mend=lambda: make_room(disk))
        return _went(went, heals=False)

    return run


def _spoilt(moment: Moment, how: dict[str, float], *, heals: bool) -> Callable[[Path], Came]:
    def run(root: Path) -> Came:
        root.mkdir(parents=True)
        with disk_of_its_own() as disk:
            spoilt = Spoilt(root, disk)
            came = _went(work(disk, spoilt.act(**how), moment, _on_wire(root), mend=spoilt.mend), heals=heals)
            if came.problems:  # it lies elsewhere than what is kept of a cell
                copy_left(disk, root / "disk")
            return came

    return run


def _clocks() -> Iterator[Cell]:
    for moment, by_s in itertools.product(_STRUCK, (3600.0, -3600.0)):
        name = f"wall clock set {'forward' if by_s > 0 else 'back'} by an hour, {moment}"
        yield Cell(kind="clock", name=name, run=_spoilt(moment, {"clock_s": by_s}, heals=True), why_not=why_not_laid)


# On the wire

#: In the order of the strike's rung: a short one, one in the middle, the first that is held, the last.
_RUNGS = {"first": 1, "timed": 4, "first held": 8, "last": 10}
_PROCESS: dict[str, WireStrike | None] = {
    "stays": None,
    "told to end in a hold": TROUBLES["process told to end in a hold"].strike,
    "killed in a hold": TROUBLES["process killed in a hold"].strike,
    "killed before the file": TROUBLES["process killed between close and file"].strike,
}
#: Troubles that say of themselves at which exposure they strike, and those of no exposure.
_FAULTS = {
    name: one
    for name, one in TROUBLES.items()
    if (one.body or one.wire) and one.times == SHORT and not one.gone_on_with and "later than it" not in name
}
#: What meets in the covering array.
ON_THE_WIRE = {
    "trouble": tuple(_FAULTS),
    "at": tuple(_RUNGS),
    "camera process": tuple(_PROCESS),
    "then": ("nothing", "event never", "reset between frames", "file cut short"),
    "dialect": DIALECTS,
    "files": ("raw", "raw and JPEG"),
}
_THEN_AT = 6


def _troubles() -> Iterator[Cell]:
    for name, dialect in itertools.product(TROUBLES, DIALECTS):
        yield Cell(kind="wire, one trouble", name=f"{name} ({dialect})", run=_troubled(TROUBLES[name], dialect))
    for dialect in DIALECTS:
        without = Trouble(how=TROUBLES["none"].how.model_copy(update={"card": False}), may_stop=True)
        run = _troubled(without, dialect, exception="card removed or broken")
        yield Cell(kind="wire, one trouble", name=f"no card ({dialect})", run=run)


def _pairwise() -> Iterator[Cell]:
    for row in covering(ON_THE_WIRE):
        name = f"{', '.join(f'{name} {value}' for name, value in row.items() if value not in ('nothing', 'stays'))}"
        yield Cell(kind="wire, pairwise", name=name, run=_row(row))


def _row(row: Row) -> Callable[[Path], Came]:
    one, then = _FAULTS[row["trouble"]], TROUBLES.get(row["then"], TROUBLES["none"])
    at = {"at_frame": _RUNGS[row["at"]]}
    return _troubled(
        Trouble(
            body=(
                *(fault.model_copy(update=at) for fault in one.body),
                *(fault.model_copy(update={"at_frame": _THEN_AT}) for fault in then.body),
            ),
            wire=(
                *(fault if fault.what == "pressed" else fault.model_copy(update=at) for fault in one.wire),
                *(fault.model_copy(update={"at_frame": _THEN_AT}) for fault in then.wire),
            ),
            how=TROUBLES["raw and JPEG" if row["files"] == "raw and JPEG" else "none"].how,
            strike=_PROCESS[row["camera process"]],
            may_stop=one.may_stop,
        ),
        "nikon" if row["dialect"] == "nikon" else "eos",
    )


def _troubled(trouble: Trouble, dialect: Dialect, exception: Reason | None = None) -> Callable[[Path], Came]:
    def run(root: Path) -> Came:
        came = work_on_wire(
            root,
            dialect,
            faults=trouble.body,
            wire_faults=trouble.wire,
            how=trouble.how,
            times=trouble.times,
            strike=trouble.strike,
            gone_on_with="always" if trouble.gone_on_with else "if not done",
        )
        left = Left(came.folder)
        problems = left.lost() + left.unfinished() + came.settings_off()
        if came.first_outcome != "done" and not (trouble.may_stop or trouble.gone_on_with):
            problems.append(f"it did not go on by itself: {came.first_outcome}: {came.first_note}")
        if came.first_outcome != "done" and not came.first_note:
            problems.append(f"it ended as {came.first_outcome} without a word")
        dies = came.first_outcome != "done" and any(fault.what == "battery dies" for fault in trouble.body)
        used = exception or ("body without power" if dies else None)
        again = "" if came.first_outcome == "done" else f"; {came.first_outcome}: {came.first_note}; gone on with"
        return Came(problems=problems, line=f"{left.summary()}{again}", exception=used)

    return run


# On USB


def _usb() -> Iterator[Cell]:
    for name, do in usb.CELLS.items():
        yield Cell(kind="USB", name=name, run=_on_usb(do, name), why_not=usb.why_not)


def _on_usb(do: Callable[[Path], tuple[list[str], str]], name: str) -> Callable[[Path], Came]:
    def run(root: Path) -> Came:
        problems, line = do(root)
        return Came(problems=problems, line=line, exception="cable never back" if "never back" in name else None)

    return run
