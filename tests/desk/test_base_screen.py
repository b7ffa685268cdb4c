"""The base exposure at the desk: every wish on its key, rectangles by key and mouse, and live view."""

from __future__ import annotations

import asyncio
from dataclasses import replace
from pathlib import Path
from typing import Any, get_args

import pytest
from PIL import Image

from tests.desk.rig import PlayedRun, Rig, begun
from tests.desk.test_draft import STATE, with_plan
from tests.desk.test_run_screen import play
from tether.desk.base_screen import moved
from tether.desk.half_blocks import HalfBlocks
from tether.desk.pictures import DASHES
from tether.desk.widgets import TextLine
from tether.editor.messages import (
    Begun,
    Doing,
    DraftFrame,
    DraftRegion,
    Expose,
    Find,
    FromCamera,
    Halt,
    Nudge,
    PictureShown,
    RegionKind,
    SetRegion,
    ShowLive,
    WishAnswer,
)
from tether.files.marked import plain_beside, write_marked
from tether.journal.records import RegionsSaid, RegionsShown


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


def test_how_the_place_was_framed_last_is_laid_over_live_view_and_taken_off(frame: DraftFrame, tmp_path: Path) -> None:
    framed = tmp_path / "last.png"
    Image.new("RGB", (60, 40), (250, 250, 250)).save(framed)

    def shown(bench: Any) -> Any:
        return bench.rig.desk.screen.query_one("#base-picture")._picture

    async def sit() -> None:
        async with with_plan() as bench:
            await bench.pressed("2", "l")
            await bench.told(PictureShown(picture=frame.picture, times=1))
            assert "as framed last" not in bench.rig.text()
            await bench.told(PictureShown(picture=frame.picture, times=1, framed=str(framed)))
            assert "as framed last" in bench.rig.text()
            alone = shown(bench)
            await bench.pressed("o")
            assert "live view alone" in bench.rig.text()
            assert "over it how this place was framed last" in " ".join(bench.rig.text().split())
            assert shown(bench).mean() == pytest.approx((alone.mean() + 250) / 2, abs=1)
            await bench.pressed("o")
            assert shown(bench).mean() == pytest.approx(alone.mean())
            assert "over it" not in bench.rig.text()

    asyncio.run(sit())


def strokes(rig: Rig) -> list[bool]:
    """Return which columns of the picture are white from top to bottom."""
    blocks = rig.desk.screen.query_one("#base-picture", HalfBlocks)
    lines = [[one for one in blocks.render_line(y) if one.text == "▀"] for y in range(blocks.size.height)]
    lit = [[(one.style.color.triplet.red, one.style.bgcolor.triplet.red) for one in line]  # type: ignore[union-attr]
           for line in lines if line]  # fmt: skip
    return [all(min(line[column]) > 200 for line in lit) for column in range(len(lit[0]))]


@pytest.mark.parametrize(
    ("size", "columns", "lines"), [((60, 20), 30, 10), ((80, 24), 50, 16), ((120, 40), 72, 24), ((160, 50), 110, 36)]
)
def test_the_regions_of_a_run_are_shown_large_with_marks_and_judged(
    run: PlayedRun, size: tuple[int, int], columns: int, lines: int
) -> None:
    """Water on the left, rock on the right, neither between them."""
    picture = run.outing / "readings" / "ladder-1.jpg"
    picture.parent.mkdir()
    Image.new("RGB", (600, 434), (60, 60, 60)).save(picture)
    cells = ["w" * 24 + "." * 24 + "r" * 24] * 48
    write_marked(plain_beside(picture), Image.new("RGB", (600, 400), (60, 60, 60)), cells)
    shown = RegionsShown(picture="readings/ladder-1.jpg", found="water 33%, rock 52% of the picture", state="asked")

    async def do(rig: Rig) -> None:
        await rig.attached(run, *begun(), shown)
        await rig.shows("2 shows them" if size[0] >= 80 else "Proposed and in use")
        await rig.press("2")
        await rig.pilot.pause()
        rows = [line.count("▀") for line in rig.text().splitlines()]
        assert max(rows) >= columns
        assert sum(row > 0 for row in rows) >= lines
        found = strokes(rig)
        water, neither, rock = (found[part * len(found) // 3 :][: len(found) // 3 - 1] for part in range(3))
        assert any(water)
        assert not any(neither)
        assert not any(rock)
        words = " ".join(rig.text().replace("▀", " ").split())
        for said in ("Proposed and in use: water 33%, rock 52% of the picture", "Lines: water. Dots: rock."):
            assert said in words
        await rig.press("f")
        assert run.said.get(timeout=5) == "regions wrong"
        await rig.press("r")
        assert run.said.get(timeout=5) == "regions right"

    play(run, do, size=size)


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ("asked", "Proposed and in use: water 33%, rock 52% of the picture"),
        ("right", "In use, as you said: water 33%, rock 52% of the picture"),
        ("wrong", "Not used, as you said: water 33%, rock 52% of the picture"),
    ],
)
def test_while_a_ladder_runs_that_was_begun_here_the_base_is_that_of_the_run(
    run: PlayedRun, state: RegionsSaid, said: str
) -> None:
    shown = RegionsShown(picture=None, found="water 33%, rock 52% of the picture", state=state)

    async def sit() -> None:
        async with with_plan() as bench:
            await bench.told(STATE, Begun(outing=str(run.outing)))
            await bench.rig.attached(run, *begun(), shown)
            await bench.pressed("2")
            await bench.rig.shows(said)
            assert "No rectangles are given" not in bench.rig.text()
            wishes = len(bench.kept.wishes)
            assert await bench.pressed("e", "l", "w") == [], "the camera is the run's"
            assert len(bench.kept.wishes) == wishes

    asyncio.run(sit())


def test_a_rectangle_stays_in_the_picture_and_does_not_turn_over() -> None:
    box = (0.3, 0.5, 0.7, 0.8)
    assert moved(box, -1, 1, corner=False) == pytest.approx((0.0, 0.7, 0.4, 1.0))
    assert moved(box, 1, 1, corner=True) == pytest.approx((0.3, 0.5, 1.0, 1.0))
    left, top, right, bottom = moved(box, -1, -1, corner=True)
    assert (left, top) == (0.3, 0.5)
    assert right > left
    assert bottom > top


def test_a_rectangle_that_is_moved_keeps_its_size_and_one_that_is_shrunk_its_least() -> None:
    box = (0.1, 0.1, 0.5, 0.3)
    assert moved(box, 0.02, -0.02, corner=False) == pytest.approx((0.12, 0.08, 0.52, 0.28))
    assert moved(box, 0.9, 0.9, corner=False) == pytest.approx((0.6, 0.8, 1.0, 1.0))
    assert moved(box, -0.9, -0.9, corner=True) == pytest.approx((0.1, 0.1, 0.14, 0.14))


def test_what_is_outlined_can_be_told_apart_without_colour() -> None:
    assert set(DASHES) == set(get_args(RegionKind))
    assert len(set(DASHES.values())) == len(DASHES)
