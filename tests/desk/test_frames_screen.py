"""Looking at frames, comparing them and choosing: first what is kept in the outing, then what is on the screen."""

from __future__ import annotations

import asyncio
import shutil
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest

from tests.desk.rig import PlayedRun, Rig, asked, at_desk
from tests.desk.test_strip_pictures import Played
from tests.engine.rig import BASE, SIX, work
from tether.desk.frames_screen import FramesScreen
from tether.desk.half_blocks import HalfBlocks
from tether.desk.strip_row import StripRow
from tether.report.choices import CHOICES_NAME, Choice, read_choices
from tether.report.cropper import Cropper

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
    outing: Path,
    do: Callable[[Rig], Awaitable[None]],
    size: tuple[int, int] = (120, 40),
    look: str = "plain",
    **more: Any,
) -> None:
    async def sit() -> None:
        async with at_desk(outing, size, look, **more) as rig:
            await rig.press("5")
            await rig.shows("rung 1:")
            await do(rig)

    asyncio.run(sit())


def strip(rig: Rig) -> StripRow:
    return rig.desk.screen.query_one(StripRow)


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


@pytest.mark.parametrize("size", [(160, 50), (120, 40), (80, 24)])
def test_two_frames_fill_the_screen_beside_the_strip(outing: Path, size: tuple[int, int]) -> None:
    """All cells of both rooms show something, and but for a column between them they are as wide as the screen."""

    async def do(rig: Rig) -> None:
        await rig.press("c", "down")
        rooms = [blocks(rig, name) for name in ("left", "right")]
        assert sum(room.size.width for room in rooms) >= size[0] - 2
        lines = size[1] - sum(1 for line in rig.text().splitlines() if line and "▀" not in line)
        assert rooms[0].size.height + strip(rig).size.height - 2 >= lines - 1
        for room in rooms:
            assert len(colours(room)) == room.size.width * room.size.height
        assert "whole (now cut to fill)" in rig.text()
        await rig.press("w")
        await rig.pilot.pause()
        assert "fill (now whole)" in rig.text()
        assert len(colours(rooms[0])) < rooms[0].size.width * rooms[0].size.height

    look(outing, do, size)


@pytest.mark.parametrize("size", [(160, 50), (120, 40), (80, 24)])
def test_the_strip_shows_every_rung_with_its_time_number_and_choice(outing: Path, size: tuple[int, int]) -> None:
    async def do(rig: Rig) -> None:
        await rig.press("k")
        for caption in ("1/500 s", "1/125 s", "1/4 s", "1 keep", "rung 2", "rung 3"):
            assert caption in rig.text()

    look(outing, do, size)


def test_the_strip_leads_from_rung_to_rung_by_keys_and_clicks(outing: Path) -> None:
    async def do(rig: Rig) -> None:
        await rig.press("right", "right")
        await rig.shows("frame 5, rung 3:")  # the last of its three
        await rig.press("right", "left")
        await rig.shows("frame 2, rung 2:")
        await rig.pilot.click("#strip", offset=(1, 1))
        await rig.shows("frame 1, rung 1:")
        await rig.press("c", "right")
        assert "left:  frame 1" in rig.text()
        assert "right: frame 2" in rig.text()

    look(outing, do)


def test_pictures_of_the_strip_come_from_the_process_that_decodes_and_follow_the_part_that_is_looked_at(
    outing: Path,
) -> None:
    played = Played(water=None)

    async def do(rig: Rig) -> None:
        await rig.until(lambda: len(played.asked) == 3)
        await rig.until(lambda: any("▀" in segment.text for segment in strip(rig).render_line(0)))
        await rig.press("z", "shift+left")
        await rig.until(lambda: len(played.asked) >= 6)

    look(outing, do, crops=lambda: played)
    assert played.surveyed == 1


def test_the_water_is_looked_at_first_until_the_person_moves(outing: Path) -> None:
    played = Played(water=(0.25, 0.5))

    async def do(rig: Rig) -> None:
        screen = rig.desk.screen
        assert isinstance(screen, FramesScreen)
        await rig.until(lambda: screen._centre == (0.25, 0.5))
        await rig.press("z", "z", "shift+right")
        assert screen._centre[0] > 0.25

    look(outing, do, crops=lambda: played)


def test_the_real_process_gives_the_strip_its_pictures_and_ends_with_the_desk(outing: Path) -> None:
    made: list[Cropper] = []

    def make() -> Cropper:
        made.append(Cropper("desk"))
        return made[0]

    async def do(rig: Rig) -> None:
        await rig.until(lambda: sum(segment.text == "▀" for segment in strip(rig).render_line(0)) > 20)
        assert made[0]._process is not None

    look(outing, do, crops=make)
    assert made[0]._process is None or made[0]._process.returncode is not None


def test_without_raw_frames_there_is_no_strip_and_the_list_stays(outing: Path, tmp_path: Path) -> None:
    bare = tmp_path / "bare"
    shutil.copytree(outing, bare, ignore=shutil.ignore_patterns("*.dng", "simulated-body"))

    async def do(rig: Rig) -> None:
        assert not strip(rig).display
        await rig.press("c", "down")
        assert rig.desk.screen.query_one("#list").display

    look(bare, do)


@pytest.mark.prove
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
