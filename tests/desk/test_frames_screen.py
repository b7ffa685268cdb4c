"""Looking at frames, comparing them and choosing: first what is kept in the outing, then what is on the screen."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest

from tests.desk.rig import PlayedRun, Rig, asked, at_desk
from tests.engine.rig import BASE, SIX, work
from tether.desk.half_blocks import HalfBlocks
from tether.report.choices import CHOICES_NAME, Choice, read_choices

RUNGS = BASE + '[rungs]\ntimes = ["1/500", "1/125", "1/4"]\n' + SIX


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the outing of a small rehearsal of three rungs."""
    return work(tmp_path_factory.mktemp("worked"), RUNGS).folder


@pytest.fixture
def outing(worked: Path) -> Path:
    (worked / CHOICES_NAME).unlink(missing_ok=True)
    return worked


def look(
    outing: Path, do: Callable[[Rig], Awaitable[None]], size: tuple[int, int] = (120, 40), look: str = "plain"
) -> None:
    async def sit() -> None:
        async with at_desk(outing, size, look) as rig:
            await rig.press("5")
            await rig.shows("rung 1:")
            await do(rig)

    asyncio.run(sit())


def blocks(rig: Rig, name: str) -> HalfBlocks:
    return rig.desk.screen.query_one(f"#{name}", HalfBlocks)


def colours(widget: HalfBlocks) -> list[tuple[int, int, int]]:
    """Return the colours of the upper halves of a widget's cells."""
    return [
        segment.style.color.triplet
        for y in range(widget.size.height)
        for segment in widget.render_line(y)
        if segment.text == "▀" and segment.style and segment.style.color and segment.style.color.triplet
    ]


def test_keep_maybe_no_and_a_note_are_kept_in_the_outing(outing: Path) -> None:
    async def do(rig: Rig) -> None:
        await rig.press("k", "down", "m", "down", "n", "o", *"the calm one", "enter")
        assert read_choices(outing) == {
            1: Choice(verdict="keep"),
            2: Choice(verdict="maybe"),
            3: Choice(verdict="no", note="the calm one"),
        }
        assert all(word in rig.text() for word in ("keep ", "maybe", "Note: the calm one"))
        await rig.press("u")
        assert read_choices(outing)[3] == Choice(note="the calm one")
        await rig.press("o", "x", "escape")
        assert read_choices(outing)[3] == Choice(note="the calm one")

    look(outing, do)


def test_choices_that_cannot_be_read_are_said_and_left(outing: Path) -> None:
    (outing / CHOICES_NAME).write_text("[frame.3\n")

    async def do(rig: Rig) -> None:
        await rig.shows("is not valid TOML")
        await rig.press("k")
        assert (outing / CHOICES_NAME).read_text() == "[frame.3\n"

    look(outing, do)


def test_a_frame_is_shown_with_what_it_was_taken_with(outing: Path) -> None:
    async def do(rig: Rig) -> None:
        assert "frame 1, rung 1: 1/500 s" in rig.text()
        first = colours(blocks(rig, "left"))
        assert len(set(first)) > 50  # it is a picture
        await rig.press("down")
        assert "frame 2, rung 2: 1/125 s" in rig.text()
        assert colours(blocks(rig, "left")) != first

    look(outing, do)


@pytest.mark.parametrize("size", [(120, 40), (80, 24), (60, 20)])
def test_two_frames_side_by_side_show_the_same_part_evened_out(outing: Path, size: tuple[int, int]) -> None:
    async def do(rig: Rig) -> None:
        await rig.press("c", "down", "down")
        assert "left:  frame 1" in rig.text()
        assert "right: frame 3" in rig.text()
        assert "Evened out, the right one by" in rig.text()
        left, right = colours(blocks(rig, "left")), colours(blocks(rig, "right"))
        for channel in range(3):
            means = [sum(colour[channel] for colour in side) / len(side) for side in (left, right)]
            assert abs(means[0] - means[1]) < 4
        await rig.press("z", "z")
        await rig.pilot.pause()
        assert colours(blocks(rig, "left")) != left
        await rig.press("c")
        assert not blocks(rig, "right").display

    look(outing, do, size)


def test_the_part_that_is_looked_at_moves_by_keys_and_by_a_click(outing: Path) -> None:
    async def do(rig: Rig) -> None:
        await rig.press("z", "z")
        before = colours(blocks(rig, "left"))
        await rig.press("shift+left", "shift+up")
        moved = colours(blocks(rig, "left"))
        assert moved != before
        await rig.press(*["shift+left"] * 20, *["shift+up"] * 20)
        corner = colours(blocks(rig, "left"))
        await rig.press("shift+left")
        assert colours(blocks(rig, "left")) == corner  # no further than the edge
        room = blocks(rig, "left").size
        await rig.pilot.click("#left", offset=(room.width - 8, room.height // 2))
        assert colours(blocks(rig, "left")) != corner

    look(outing, do)


def test_in_ember_a_picture_is_red_only(outing: Path) -> None:
    async def do(rig: Rig) -> None:
        shown = colours(blocks(rig, "left"))
        assert shown
        assert all(blue == 0 and green <= red / 8 + 1 for red, green, blue in shown)

    look(outing, do, look="ember")


def test_a_turn_comes_over_a_note_and_what_is_typed_does_not_answer_it(outing: Path) -> None:
    run = PlayedRun(outing)

    async def sit() -> None:
        async with at_desk(outing) as rig:
            await rig.attached(run)
            await rig.press("5", "o", *"the ca")
            await rig.attached(run, *asked())
            await rig.press(*"lm one")
            assert run.said.empty()
            rig.hands.at_s += 2
            await rig.press("space")
            assert await rig.heard(run) == "answer"

    try:
        asyncio.run(sit())
    finally:
        run.end()
