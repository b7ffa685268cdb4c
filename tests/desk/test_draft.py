"""Body, base and beginning at the desk: what is wished of the process that plans, and what is shown of its news."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest

from tests.desk.rig import PlayedRun, Rig, at_desk, begun, planned
from tests.journal.shown import ladder_ended
from tether.desk.draft import DraftView
from tether.editor.messages import (
    Begin,
    Begun,
    Check,
    Checked,
    Drafted,
    EditorEvent,
    EditorRequest,
    SameAgain,
    Start,
)
from tether.editor.plans import plans_in
from tether.journal.readings import HistogramSaid
from tether.journal.story import CheckStory

START = Start(path="weir.toml")
STATE = Drafted(
    path="weir.toml",
    text="",
    saved=True,
    keys=(),
    regions=(),
    ladder=planned(),
    mistakes=(),
    simulated=True,
    edits=0,
)
CHECKED = Checked(
    findings=(
        CheckStory(what="camera", verdict="ok", text="An invented body."),
        CheckStory(what="focus", verdict="stop", text="The lens focuses by itself. Switch it to manual."),
        CheckStory(what="power", verdict="note", text="The machine runs on its battery."),
    ),
    at="18:02:11",
)
BARS = HistogramSaid(
    of="water",
    stops=9,
    shares={channel: tuple([0.0] * 9 + [0.05] * 17 + [0.14]) for channel in "RGB"},
    clipped={"R": 0.0, "G": 0.01, "B": 0.0},
)


@dataclass
class Kept:
    """Stands in for the keeper of the process: wishes are kept, news is told by the test."""

    start: Start
    tell: Callable[[EditorEvent], None]
    wishes: list[EditorRequest] = field(default_factory=list)
    rested: int = 0

    def open(self) -> None: ...

    def wish(self, wish: EditorRequest) -> int:
        self.wishes.append(wish)
        return len(self.wishes)

    def close(self) -> None:
        self.rested += 1

    def wait(self) -> None: ...


@dataclass
class Bench:
    """A desk with a plan, and the stand-in for its process."""

    rig: Rig
    kept: Kept

    async def told(self, *news: EditorEvent) -> None:
        """Have the process tell something, and wait until it is shown."""
        for one in news:
            self.kept.tell(one)
        await asyncio.sleep(0)
        await self.rig.pilot.pause()

    async def pressed(self, *keys: str) -> list[EditorRequest]:
        """Press keys and return what was wished by them."""
        before = len(self.kept.wishes)
        await self.rig.press(*keys)
        await self.rig.pilot.pause()
        return self.kept.wishes[before:]


@asynccontextmanager
async def with_plan(size: tuple[int, int] = (80, 24)) -> AsyncIterator[Bench]:
    made: list[Kept] = []

    def keep(start: Start, tell: Callable[[EditorEvent], None]) -> Kept:
        made.append(Kept(start, tell))
        return made[-1]

    async with at_desk(None, size, start=START, keep=keep) as rig:
        bench = Bench(rig, made[-1])
        await bench.told(STATE)
        yield bench


def test_a_run_that_is_begun_is_attached_to_and_the_process_that_planned_it_rests(tmp_path: Path) -> None:
    async def sit() -> None:
        other, run = PlayedRun(tmp_path / "other"), PlayedRun(tmp_path / "weir")
        try:
            other.tell(*begun())
            async with with_plan((120, 40)) as bench:
                assert await bench.pressed("B", "enter") == [Begin()]
                assert bench.rig.desk.sight.state == "none", "with a plan in hand nothing else is attached to"
                run.tell(*begun())
                await bench.told(Begun(outing=str(run.outing)))
                await bench.rig.until(lambda: bench.rig.desk.sight.outing == run.outing.resolve())
                await bench.rig.shows("rungs")
                assert bench.kept.rested
                assert bench.rig.desk.screen.CALLED == "run"  # type: ignore[attr-defined]
                assert await bench.pressed("1", "B", "enter") == []
                assert "while none runs" in bench.rig.text()
        finally:
            other.end()
            run.end()

    asyncio.run(sit())


def test_after_a_ladder_one_key_begins_the_same_again_and_before_that_it_says_when(tmp_path: Path) -> None:
    async def sit() -> None:
        run = PlayedRun(tmp_path / "weir")
        try:
            async with with_plan((120, 40)) as bench:
                run.tell(*begun())
                await bench.told(Begun(outing=str(run.outing)))
                await bench.rig.until(lambda: bench.rig.desk.sight.state == "attached")
                assert await bench.pressed("A") == []
                assert "once a ladder is over" in " ".join(bench.rig.text().split())
                run.tell(ladder_ended())
                await bench.rig.shows("A: same again for a new composition")
                run.end()
                await bench.rig.until(lambda: bench.rig.desk.sight.state == "over")
                assert await bench.pressed("A") == [SameAgain(outing=str(run.outing.resolve()))]
        finally:
            run.end()

    asyncio.run(sit())


def test_leaving_with_a_plan_that_is_not_saved_is_spoken_of_once() -> None:
    async def sit() -> None:
        async with with_plan() as bench:
            await bench.told(replace(STATE, saved=False))
            await bench.pressed("ctrl+q")
            assert bench.rig.desk.is_running
            assert "is not saved" in bench.rig.text()
            await bench.pressed("ctrl+q")
            assert not bench.rig.desk.is_running

    asyncio.run(sit())


def test_without_a_plan_those_in_the_folder_are_offered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "b.toml").write_text("[body]\n[lens]\n[base]\n")
    (tmp_path / "a.toml").write_text("[sensor]\n")
    (tmp_path / "c.toml").write_text("[body")
    monkeypatch.chdir(tmp_path)
    assert [one.name for one in plans_in(Path())] == ["b.toml"]
    made: list[Kept] = []

    def keep(start: Start, tell: Callable[[EditorEvent], None]) -> Kept:
        made.append(Kept(start, tell))
        return made[-1]

    async def sit() -> None:
        async with at_desk(None, keep=keep) as rig:
            await rig.press("1")
            assert "b.toml" in rig.text()
            await rig.press("enter")
            assert [one.start.path for one in made] == ["b.toml"]

    asyncio.run(sit())


def test_a_wish_without_a_plan_goes_nowhere() -> None:
    assert DraftView(None, lambda _: None).wish(Check()) == 0
