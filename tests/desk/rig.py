"""A desk without a screen, attached over the real socket to a run that the test plays; time stands still."""

from __future__ import annotations

import asyncio
import os
import queue
import time
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

from textual.pilot import Pilot

from tests.journal.shown import TellingServer, exposed, home, readings, rung_ended, turn
from tether.clock import AffineClock
from tether.control.commands import Verb
from tether.control.messages import Facts
from tether.control.registry import announce, withdraw
from tether.desk.app import Desk
from tether.desk.moments import Moments
from tether.files.errors import UnreadableFileError
from tether.journal.planned import PlannedLadder
from tether.journal.readings import FrameReadings
from tether.journal.records import (
    FrameKind,
    FrameOpened,
    FrameRead,
    LadderBegun,
    Record,
    RungBegun,
    Said,
    StateChanged,
    SuppliesSeen,
)
from tether.outing.prepare import prepare
from tether.plan.as_json import planned_of
from tether.report.crops_asked import Crop, Shown, Survey

ROOT = Path(__file__).parents[2]
#: Nothing here takes long; a test that waits so long has failed [s].
SOON_S = 30.0
#: The run's clock stands here [ns].
NOW_NS = 1_000_000_000_000
NOON = datetime(2026, 10, 3, 12, 0, 0, tzinfo=UTC)
TURN = turn(5, "fit Calder 6", "rung 5, 1/15 s, is made with Calder 6")
WAVE = turn(5, "press when the moment comes", "this rung is taken on your key")


@cache
def planned() -> PlannedLadder:
    """Return the ladder of the demonstration, as a run tells it."""
    return planned_of(prepare(ROOT / "profiles" / "plans" / "demo.toml").ladder)


@dataclass
class Hands:
    """A clock whose hands the test moves [s]."""

    at_s: float = 100.0

    def moments(self) -> Moments:
        return Moments(real_s=lambda: self.at_s, run_ns=lambda _: NOW_NS, day=lambda _: NOON, wall=lambda: NOON)


@dataclass
class PlayedRun:
    """A run of an outing: what it tells is emitted by the test, what it is told is in `said`."""

    outing: Path
    simulated: bool = True
    said: queue.SimpleQueue[Verb] = field(default_factory=queue.SimpleQueue)
    told: int = 0

    def __post_init__(self) -> None:
        self.path = announce(self.outing, "Weir at evening", {"guard": os.getpid()})
        facts = Facts(outing=str(self.outing.resolve()), title="Weir at evening", simulated=self.simulated)
        self.server = TellingServer(self.path, facts, AffineClock(), self.said.put)
        self.server.start()

    def tell(self, *events: Record) -> None:
        self.server.tell(*events)
        self.told += len(events)

    def end(self) -> None:
        self.server.close()
        withdraw(self.path)


def begun() -> list[Record]:
    """Return what a run tells until its sixth frame is home: two of the base, rungs 1 to 4."""
    told: list[Record] = [LadderBegun(planned=planned())]
    for frame in range(1, 7):
        rung = frame - 2 if frame > 2 else None
        kind: FrameKind = "rung" if rung else "base"
        told += [
            *([RungBegun(rung=rung, label=f"rung {rung}", frames=1)] if rung else []),
            FrameOpened(frame=frame, rung=rung, kind=kind, way="timed", open_s=0.01, at_ns=0, closes_at_ns=1),
            exposed(frame, rung, kind),
            home(frame, f"frame-{frame}.dng"),
            FrameRead(frame=frame, readings=said_by(rung)),
            *([rung_ended(rung, "done")] if rung else []),
        ]
    told.append(
        SuppliesSeen(
            battery=0.62, card_frames=412, temperature_c=11.0, disk_bytes=58_300_000_000, disk_frames=2400, to_come=11
        )
    )
    told.append(
        Said(
            about="note",
            text="Frame 3: the water is clipped. Proposed: again, a third of a stop darker: say “darker”, “again”.",
        )
    )
    return told


def said_by(rung: int | None) -> FrameReadings:
    """Return what a frame says: the base nothing of water and rock, the first rung burns."""
    if rung is None:
        return readings()
    water = (None, 0.0012) if rung == 1 else (0.4, 0.0)
    return readings(water=water, off_stops=-0.02 * rung, moved=(0.3, 0.4), lost=0.06)


def asked() -> list[Record]:
    """Return what a run tells when it asks for the first filter."""
    return [
        *begun(),
        RungBegun(rung=5, label="1/15 s", frames=1),
        StateChanged(before="ready", state="your turn", at_ns=0),
        TURN,
    ]


def answered() -> list[Record]:
    return [turn(5, TURN.what, "", "answered"), StateChanged(before="your turn", state="ready", at_ns=0)]


def held(left_s: float = 725.0) -> list[Record]:
    """Return what a run tells when the last rung's frame is held open, so long before its end."""
    return [
        *begun(),
        RungBegun(rung=14, label="4:16 min", frames=1),
        StateChanged(before="opening", state="open", at_ns=0),
        FrameOpened(
            frame=7,
            rung=14,
            kind="rung",
            way="held",
            open_s=295.1,
            at_ns=0,
            closes_at_ns=NOW_NS + round(left_s * 1e9),
        ),
    ]


@dataclass
class Rig:
    """A desk, the pilot at its keys, and its clock."""

    desk: Desk
    pilot: Pilot[None]
    hands: Hands
    bells: list[float]

    async def until(self, so: Callable[[], object]) -> None:
        """Wait until something is so; fails if it does not come."""
        until_s = time.monotonic() + SOON_S
        while not so():
            assert time.monotonic() < until_s, f"it did not come about; the screen shows:\n{self.text()}"
            await asyncio.sleep(0.01)
        await self.pilot.pause()

    async def shows(self, words: str) -> None:
        """Wait until words are on the screen."""
        await self.until(lambda: words in self.text())

    async def heard(self, run: PlayedRun) -> Verb:
        """Return the next word that was said to a run."""
        await self.until(lambda: not run.said.empty())
        return run.said.get()

    async def press(self, *keys: str) -> None:
        await self.pilot.press(*keys)

    def text(self) -> str:
        """Return what is on the screen."""
        strips = self.desk.screen._compositor.render_strips()
        return "\n".join("".join(segment.text for segment in strip).rstrip() for strip in strips) + "\n"

    async def attached(self, run: PlayedRun, *events: Record) -> None:
        """Have the run tell something and wait until the desk knows it."""
        run.tell(*events)
        await self.until(lambda: self.desk.sight.state == "attached" and self.desk.sight.snapshot.stream == run.told)


class NoCrops:
    """What gives no part of any frame."""

    async def crop(self, outing: Path, asked: Crop) -> bytes:
        raise UnreadableFileError(f"{asked.of.frame} of {outing} is not read here.")

    async def survey(self, outing: Path, asked: Survey) -> dict[str, Any]:
        raise UnreadableFileError(f"{asked.frame} of {outing} is not read here.")

    async def prepare(self, outing: Path, frames: Sequence[Shown]) -> None: ...

    async def close(self) -> None: ...


@asynccontextmanager
async def at_desk(
    outing: Path | None, size: tuple[int, int] = (80, 24), look: str = "plain", **more: Any
) -> AsyncIterator[Rig]:
    """Open a desk of a size in a look."""
    hands, bells = Hands(), []
    desk = Desk(outing, moments=hands.moments(), **{"crops": NoCrops, **more})
    desk.bell = lambda: bells.append(hands.at_s)  # type: ignore[method-assign]
    async with desk.run_test(size=size) as pilot:
        while desk.theme != look:
            desk.action_look()
        await pilot.pause()
        yield Rig(desk, pilot, hands, bells)
