"""The base exposure at the desk: every wish on its key, rectangles by key and mouse, and live view."""

from __future__ import annotations

import asyncio
from dataclasses import replace
from pathlib import Path
from typing import Any, get_args

import pytest
from PIL import Image

from tests.desk.test_draft import STATE, with_plan
from tether.desk.base_screen import DASHES, moved
from tether.desk.widgets import TextLine
from tether.editor.messages import (
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
            assert shown(bench).mean() == pytest.approx((alone.mean() + 250) / 2, abs=1)
            await bench.pressed("o")
            assert shown(bench).mean() == pytest.approx(alone.mean())

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
