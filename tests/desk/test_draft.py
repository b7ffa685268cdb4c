"""Body, base and beginning at the desk: what is wished of the process that plans, and what is shown of its news."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.desk.rig import PlayedRun, Rig, at_desk, begun, planned
from tether.desk import draft_views
from tether.desk.base_screen import moved
from tether.desk.draft import DraftView, plans_in
from tether.desk.widgets import TextLine
from tether.editor.messages import (
    Bars,
    Begin,
    Begun,
    Check,
    Checked,
    Doing,
    Drafted,
    DraftFrame,
    DraftRegion,
    EditorEvent,
    EditorRequest,
    Expose,
    Find,
    FromCamera,
    Halt,
    Nudge,
    PictureShown,
    SetRegion,
    ShowLive,
    Start,
    WishAnswer,
)
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
BARS = Bars(
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


@pytest.fixture
def frame(tmp_path: Path) -> DraftFrame:
    path = tmp_path / "base-1.jpg"
    Image.fromarray(np.full((60, 90, 3), 90, np.uint8)).save(path)
    return DraftFrame(
        picture=str(path),
        bars=BARS,
        exposure="1/60 s, f/8, ISO 100",
        sentence="0.42 stops of headroom.",
        headroom_stops=0.42,
        clipped_share=0.0,
    )


def test_a_plan_is_looked_at_when_it_is_opened_and_a_stop_is_gone_past_by_a_reason_only() -> None:
    async def sit() -> None:
        async with with_plan() as bench:
            assert bench.kept.wishes == [Check()]
            await bench.told(Doing(what="Looking."))
            assert "… Looking." in bench.rig.text()
            await bench.told(CHECKED, WishAnswer(to=1, ok=True, sentence=""), Doing(what=""))
            lines = bench.rig.text().splitlines()
            (first,) = [line for line in lines if "focus:" in line]
            assert first.strip().startswith("STOP")
            assert lines.index(first) < next(at for at, line in enumerate(lines) if "power:" in line)
            assert "1 STOP" in bench.rig.text()
            assert await bench.pressed("B", "enter") == [], "what stops it is to be mended or given a reason"
            assert "STOP  focus" in bench.rig.text()
            await bench.pressed("escape", "o", *"infinity", "enter")
            assert bench.rig.desk.draft.despite == {"focus": "infinity"}
            assert "Overridden: infinity" in " ".join(bench.rig.text().split())
            assert await bench.pressed("B", "enter") == [Begin(despite={"focus": "infinity"})]
            await bench.pressed("o", *["backspace"] * 8, "enter")
            assert bench.rig.desk.draft.despite == {}

    asyncio.run(sit())


def test_every_wish_for_the_base_is_on_a_key(frame: DraftFrame) -> None:
    async def sit() -> None:
        async with with_plan((120, 40)) as bench:
            await bench.pressed("2")
            assert await bench.pressed("e") == [Expose()]
            assert await bench.pressed("f") == [Find()]
            assert await bench.pressed("t") == [FromCamera()]
            await bench.told(Doing(what="The base exposure is looked for."))
            assert "end this" in bench.rig.text()
            assert await bench.pressed("h") == [Halt()]
            await bench.told(frame, WishAnswer(to=2, ok=True, sentence="Base: 1/60 s."), Doing(what=""))
            shown = bench.rig.text()
            assert "Base: 1/60 s." in shown
            line = bench.rig.desk.screen.query_one("#base-frame", TextLine)
            assert "1/60 s, f/8, ISO 100: 0.42 stops of headroom." in line.text
            assert "Raw, water: stops below clipping" in shown
            assert "1.0 %" in shown
            await bench.told(WishAnswer(to=3, ok=False, sentence="The camera is set to bulb."))
            assert "The camera is set to bulb." in bench.rig.text()

    asyncio.run(sit())


def test_a_rectangle_is_set_by_keys_or_by_mouse_and_sent_when_it_is_kept(frame: DraftFrame) -> None:
    async def sit() -> None:
        async with with_plan((120, 40)) as bench:
            await bench.pressed("2")
            await bench.told(frame)
            assert await bench.pressed("w", "right", "down", "shift+left") == []
            assert "dashes: water: from 32% across and 52% down to 70% across and 82% down" in bench.rig.text()
            (wish,) = await bench.pressed("enter")
            assert isinstance(wish, SetRegion)
            assert wish.box == pytest.approx((0.32, 0.52, 0.70, 0.82))
            assert wish.box is not None
            await bench.told(replace(STATE, regions=(DraftRegion(what="water", box=wish.box),)))
            assert "dashes: water" in bench.rig.text()
            assert await bench.pressed("r", "left", "escape") == []
            assert await bench.pressed("w", "x") == [SetRegion(what="water", box=None)]
            await bench.pressed("r")
            await bench.rig.pilot.mouse_down("#base-picture", offset=(10, 12))
            await bench.rig.pilot.mouse_up("#base-picture", offset=(40, 20))
            (wish,) = await bench.pressed("enter")
            assert isinstance(wish, SetRegion)
            assert wish.box is not None
            left, top, right, bottom = wish.box
            assert 0 <= left < right <= 1
            assert 0 <= top < bottom <= 1
            assert (left, right) != (0.3, 0.7)

    asyncio.run(sit())


def test_live_view_is_asked_for_magnified_and_ended_and_the_focus_nudged(frame: DraftFrame) -> None:
    async def sit() -> None:
        async with with_plan() as bench:
            await bench.pressed("2")
            assert await bench.pressed("comma") == [], "the focus is moved only where it is seen"
            assert await bench.pressed("l") == [ShowLive()]
            await bench.told(PictureShown(picture=frame.picture, times=1))
            assert "LIVE VIEW, whole" in bench.rig.text()
            assert await bench.pressed("z", "right") == [ShowLive(at=(0.5, 0.5)), ShowLive(at=(0.55, 0.5))]
            await bench.told(PictureShown(picture=frame.picture, times=5))
            assert "5 times magnified" in bench.rig.text()
            assert await bench.pressed("comma", "full_stop") == [Nudge(steps=-1), Nudge(steps=1)]
            assert "LIVE VIEW" in bench.rig.text()
            assert await bench.pressed("l") == [Halt()]
            assert "LIVE VIEW" not in bench.rig.text()

    asyncio.run(sit())


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


def test_a_rectangle_stays_in_the_picture_and_does_not_turn_over() -> None:
    box = (0.3, 0.5, 0.7, 0.8)
    assert moved(box, -1, 1, corner=False) == pytest.approx((0.0, 0.7, 0.4, 1.0))
    assert moved(box, 1, 1, corner=True) == pytest.approx((0.3, 0.5, 1.0, 1.0))
    left, top, right, bottom = moved(box, -1, -1, corner=True)
    assert (left, top) == (0.3, 0.5)
    assert right > left
    assert bottom > top


@pytest.mark.parametrize("width", [34, 44, 58, 80, 120])
@pytest.mark.parametrize("rows", [1, 3])
def test_a_histogram_fits_its_room_and_its_highest_bar_fills_it(width: int, rows: int) -> None:
    lines = draft_views.histogram(BARS, width, rows)
    assert len(lines) == 3 * rows + 2
    assert all(len(line) <= width for line in lines)
    channel = lines[1 : 1 + rows]
    assert all("█" in line for line in channel), "the highest bar is as high as there is room"
    hatched = [line for line in lines if "▒▒" in line]
    assert len(hatched) == rows
    assert hatched[-1].lstrip().startswith("green")
