"""A ladder through the driver and the camera library, on a camera on the wire that has a trouble: what comes of it.

Ten rungs, three of them held; the body's longest native time is 1/4 s, so that holds are short and all is real time.
What the camera itself wrote down is the truth that the journal is held against.
"""

from __future__ import annotations

import json
import os
import signal
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from threading import Timer
from typing import Literal

from tests.body.choices import really
from tests.body.responder.observed import Observed, observed
from tests.engine.rig import world
from tests.faults.ladder import TEN, body_text, plan_text
from tests.journal.planned import rungs_of
from tether.body.connection import Connection
from tether.body.dialects import Dialect
from tether.body.process import LOCK_NAME
from tether.body.responder.faults import WireFault
from tether.body.responder.start import WireHow
from tether.body.simulated.faults import Fault
from tether.clock import AffineClock
from tether.errors import CameraError, LostError
from tether.journal.records import ExposeOutcome, FrameOpened, Record
from tether.journal.story import FrameStory, LadderStory, Outing
from tether.journal.telling import read_outing
from tether.plan.file import plan_from_text
from tether.service.rehearsal import Rehearsal

HELD = {8, 9, 10}
GoneOnWith = Literal["never", "always", "if not done"]
#: How far what was held may be from what was asked, on an idle machine [s].
HELD_SAME_S = 0.002


@dataclass(frozen=True, kw_only=True)
class Times:
    """The times of a ladder: the base's, its rungs', and the longest that the body keeps by itself."""

    base: str = "1/30"
    rungs: tuple[str, ...] = TEN
    longest: str = "1/4"


SHORT = Times()
#: The fourth is timed by the body and lasts long enough to be lost early in it.
LONG = Times(base="1/8", rungs=("1/500", "1/125", "1/30", "8"), longest="8")


@dataclass(frozen=True, kw_only=True)
class Strike:
    """A signal to the camera process when an exposure is opened, or over and its file still to come."""

    sent: signal.Signals
    at: Literal["opened", "over"]
    rung: int
    after_s: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Came:
    """What came of it: the ladder as told, and what the camera saw; `first_` is before it was gone on with."""

    outcome: str
    note: str | None
    told: Outing
    seen: list[Observed]
    folder: Path
    first_outcome: str
    first_note: str | None

    @property
    def ladder(self) -> LadderStory:
        return self.told.ladders[-1]

    def outcome_in_words(self) -> str:
        """Return the outcome, and where it was not done the sentence that says why."""
        return self.outcome if self.outcome == "done" else f"{self.outcome}: {self._why()}"

    def _why(self) -> str | None:
        """Return the sentences that say why it was not done; None where there are none."""
        return " ".join(self.note.split()) if self.note else self.ladder.note if self.told.ladders else None

    def good(self) -> dict[int | None, FrameStory]:
        """Return the last good frame of each rung."""
        return {
            frame.rung: frame
            for frame in self._frames()
            if frame.kind == "rung" and frame.files and not any("not as asked" in note for note in frame.notes)
        }

    def problems(self, *, may_stop: bool = False) -> list[str]:
        """Return in sentences what is not as it must be, whatever the trouble was; empty if all is well.

        The ladder is complete, or (`may_stop`) ended with a sentence; the shutter is shut; nothing is lost.
        """
        found = self._shutter() + self._files()
        if self.outcome == "done":
            return found + self._rungs()
        if not may_stop or not self._why():
            found.append(f"the ladder ended as {self.outcome_in_words()}")
        return found

    def _frames(self) -> tuple[FrameStory, ...]:
        return self.ladder.frames if self.told.ladders else ()

    def _shutter(self) -> list[str]:
        if not self.seen:
            return []
        opened, closed = (len(really(self.folder / "simulated-body", what)) for what in ("opened", "closed"))
        return [f"the shutter opened {opened} times and shut {closed} times"] if opened != closed else []

    def _rungs(self) -> list[str]:
        missing = sorted({rung.rung for rung in rungs_of(self.ladder)} - set(self.good()))
        return [f"rungs without a good frame: {missing}"] if missing else []

    def _files(self) -> list[str]:
        card = {f"SIM_{one.frame:04}" for one in self.seen}
        files = [file for frame in self._frames() for file in frame.files] + list(self.told.loose_files)
        home = Counter(Path(file.card_name).name for file in files if file.name)
        found = []
        at_home = {Path(name).stem for name in home}
        if at_home != card and (self.outcome == "done" or not at_home <= card):
            found.append(f"on the card are {sorted(card)}, at home {sorted(home)}")
        if any(count > 1 for count in home.values()):
            found.append("a file came home twice")
        if self.told.open_intents:
            found.append(f"without an outcome: {self.told.open_intents}")
        return found

    def settings_off(self) -> list[str]:
        """Return in sentences where what was in force at an opening is not what the rung's frame was asked."""
        by_number = {f"SIM_{one.frame:04}": one for one in self.seen}
        found = []
        for rung, frame in self.good().items():
            seen = by_number[Path(frame.files[0].card_name).stem]
            asked = frame.asked
            if (seen.time, seen.aperture, seen.iso) != (asked.time_label, asked.aperture_label, asked.iso_label):
                found.append(f"rung {rung}: asked {asked}, in force {seen}")
            if seen.held != (frame.way == "held"):
                found.append(f"rung {rung} was {'held' if seen.held else 'timed'}")
        return found

    def held_off_s(self) -> dict[int | None, float]:
        """Return by how much each held rung's time between the commands, as they arrived, is off what was asked [s]."""
        by_number = {f"SIM_{one.frame:04}": one for one in self.seen}
        off: dict[int | None, float] = {}
        for rung, frame in self.good().items():
            held_s = by_number[Path(frame.files[0].card_name).stem].held_s
            if rung in HELD and held_s is not None and frame.open_s.asked is not None:
                off[rung] = held_s - frame.open_s.asked
        return off


class _Striker:
    """Strikes once, when its moment has come."""

    def __init__(self, strike: Strike | None, lock: Path) -> None:
        self._left = strike
        self._lock = lock

    def hear(self, event: Record) -> None:
        strike = self._left
        kind = {"opened": FrameOpened, "over": ExposeOutcome}
        if strike and isinstance(event, kind[strike.at]) and getattr(event, "rung", None) == strike.rung:
            self._left = None
            Timer(strike.after_s, lambda: os.kill(int(self._lock.read_text()), strike.sent)).start()


def work(
    folder: Path,
    dialect: Dialect,
    *,
    faults: tuple[Fault, ...] = (),
    how: WireHow | None = None,
    wire_faults: tuple[WireFault, ...] = (),
    times: Times = SHORT,
    strike: Strike | None = None,
    window_px: tuple[int, int] = (120, 120),
    gone_on_with: GoneOnWith = "never",
) -> Came:
    """Work the ladder through on a camera on the wire, with troubles of the body and of the wire.

    `gone_on_with`: whether it is gone on with once more, on the same camera without troubles, its battery full.
    """
    folder.mkdir(parents=True, exist_ok=True)
    body = folder / "body.toml"
    body.write_text(body_text(dialect, longest=times.longest))
    how = (how or WireHow()).model_copy(update={"faults": wire_faults})
    truth = world(
        faults=faults,
        open_delay_s=0.0,
        close_delay_s=0.0,
        delay_jitter_s=0.0,
        sensor={"window_px": window_px},
        latency={"apply_s": 0.0, "accept_s": 0.0, "card_s": 0.1},
    )
    rehearsal = Rehearsal.of(
        plan_from_text(plan_text("On the wire", body, base=times.base, times=times.rungs)),
        pace=1.0,
        root=folder,
        outing=folder / "outing",
        world=truth,
        reach=Connection(way="wire", dialect=dialect, how=how),
    )
    striker = _Striker(strike, folder / "outing" / "camera" / LOCK_NAME)
    outcome, note = _run(rehearsal, striker.hear)
    first = outcome, note or _last_note(folder / "outing")
    if gone_on_with == "always" or (gone_on_with == "if not done" and outcome != "done"):
        _charge(folder / "outing" / "simulated-body" / "state.json")
        well = Connection(way="wire", dialect=dialect)
        world_without = truth.model_copy(update={"faults": ()})
        again = replace(rehearsal, ladder=1, reach=well, world=world_without, clock=AffineClock.started_now(1.0))
        outcome, note = _run(again, lambda _: None)
    return Came(
        outcome=outcome,
        note=note,
        told=read_outing(folder / "outing"),
        seen=observed(folder / "outing" / "simulated-body"),
        folder=folder / "outing",
        first_outcome=first[0],
        first_note=first[1],
    )


def _charge(state: Path) -> None:
    """Do what the person is asked to: put a full battery in."""
    state.write_text(json.dumps(json.loads(state.read_text()) | {"battery": 1.0}))


def _run(rehearsal: Rehearsal, hear: Callable[[Record], None]) -> tuple[str, str | None]:
    """Run it, and return how it ended; where it could not be begun or was given up, with the sentence that says why."""
    try:
        return str(rehearsal.run(hear).outcome), None
    except CameraError as error:
        return "not begun", str(error)
    except LostError as error:
        return "failed", str(error)


def _last_note(outing: Path) -> str | None:
    ladders = read_outing(outing).ladders
    return ladders[-1].note if ladders else None
