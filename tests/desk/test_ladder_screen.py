"""The ladder at the desk: keys edited in place, the ladder planned again, and what of it is shown."""

from __future__ import annotations

import asyncio
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import pytest
from textual.events import Key

from tests.desk.rig import PlayedRun, at_desk, begun, held, planned
from tests.desk.test_draft import START, STATE, Bench, Kept, with_plan
from tether.desk.ladder_screen import LadderScreen
from tether.desk.widgets import Lines, TextLine
from tether.editor.draft import Draft
from tether.editor.messages import Drafted, Edit, Save, Undo, WishAnswer
from tether.editor.plan_keys import keys_of

TEXT = (Path(__file__).parents[2] / "profiles" / "plans" / "demo.toml").read_text()
NOON = datetime(2026, 10, 3, 12, 0, tzinfo=UTC)


@cache
def drafted() -> Drafted:
    return replace(STATE, text=TEXT, keys=keys_of(TEXT))


async def at_ladder(bench: Bench) -> None:
    await bench.told(drafted())
    await bench.pressed("3")


def line(bench: Bench, name: str) -> str:
    return bench.rig.desk.screen.query_one(name, TextLine).text


def test_a_key_is_edited_in_place_and_stays_open_until_it_is_taken() -> None:
    async def sit() -> None:
        async with with_plan() as bench:
            await at_ladder(bench)
            assert await bench.pressed("down", "enter", *["backspace"] * 4, *"soon", "enter") == [
                Edit(key="rungs.to", value="soon")
            ]
            number = len(bench.kept.wishes)
            await bench.told(WishAnswer(to=number, ok=False, sentence="“soon” is no time."))
            assert "! “soon” is no time." in bench.rig.text()
            assert bench.rig.text().count("is no time") == 1, "once, beside what is edited"
            assert await bench.pressed(*["backspace"] * 4, *"2m", "enter") == [Edit(key="rungs.to", value="2m")]
            await bench.told(replace(drafted(), saved=False), WishAnswer(to=number + 1, ok=True, sentence=""))
            assert "(not saved)" in bench.rig.text()
            assert await bench.pressed("u", "S") == [Undo(), Save()]
            assert await bench.pressed("enter", "x", "escape") == [], "an input that is left changes nothing"

    asyncio.run(sit())


@pytest.mark.parametrize("key", ["1", "2", "3"])
def test_while_a_plan_is_being_opened_every_screen_says_so(key: str) -> None:
    async def sit() -> None:
        async with at_desk(None, start=START, keep=Kept) as rig:
            await rig.press(key)
            await rig.shows("weir.toml is being opened.")
            assert "No plan is open" not in rig.text()

    asyncio.run(sit())


@pytest.mark.parametrize("size", [(120, 40), (80, 24), (60, 20)])
def test_what_is_typed_and_why_it_is_not_taken_stand_right_under_the_key(size: tuple[int, int]) -> None:
    async def sit() -> None:
        async with with_plan(size) as bench:
            await at_ladder(bench)
            keys = bench.rig.desk.screen.query_one("#keys-list", Lines)
            for at, name in ((1, " to "), (31, " leave by ")):
                keys.highlighted = at
                await bench.pressed("enter", *"noon", "enter")
                sentence = "This is not to be read as any time. " * 3
                await bench.told(WishAnswer(to=len(bench.kept.wishes), ok=False, sentence=sentence))
                await bench.rig.pilot.pause()
                shown = [one[: keys.size.width] for one in bench.rig.text().splitlines()]
                typed = next(row for row, one in enumerate(shown) if "noon" in one)
                assert name in shown[typed - 1]
                assert shown[typed + 1].startswith(" ! This is not to be read")
                if size == (120, 40) and at > 7:
                    assert any("(fewest touche…" in one for one in shown), "long values are cut, not wrapped"
                await bench.pressed("escape")

    asyncio.run(sit())


def test_choices_are_gone_through_and_keys_taken_out() -> None:
    async def sit() -> None:
        async with with_plan((120, 40)) as bench:
            await at_ladder(bench)
            await bench.pressed(*["down"] * 7)
            assert "short first" in line(bench, "#hint")
            assert await bench.pressed("right", "left") == [
                Edit(key="rungs.order", value="short first"),
                Edit(key="rungs.order", value="by filter"),
            ]
            assert await bench.pressed("enter") == [Edit(key="rungs.order", value="short first")]
            assert await bench.pressed("down", "down", "down", "x") == [Edit(key="limits.aperture", value="")]
            assert await bench.pressed("down", "x") == [], "what is not given cannot be taken out"

    asyncio.run(sit())


@pytest.mark.prove
@pytest.mark.parametrize("size", [(120, 40), (80, 24)])
def test_a_rung_is_marked_as_one_that_must_be_had_and_frames_around_it_are_typed(size: tuple[int, int]) -> None:
    """Rung 8 is 0.5 s; each edit is planned as the process that drafts plans it, and shown at once."""
    draft = Draft(path=Path("demo.toml"), text=TEXT, on_disk=TEXT)

    async def sit() -> None:
        nonlocal draft
        async with with_plan(size) as bench:
            await at_ladder(bench)
            await bench.told(draft.told())
            wishes = await bench.pressed("tab", *["down"] * 7, "m")
            assert wishes == [Edit(key="rung.new", value="0.5 = must")]
            draft = draft.edited("rung.new", "0.5 = must")
            await bench.told(draft.told(), WishAnswer(to=len(bench.kept.wishes), ok=True, sentence=""))
            assert "*! 8      0.5 s" in bench.rig.text()
            assert await bench.pressed("down", "enter", *"+1", "enter") == [Edit(key="rung.new", value="1 = +1")]
            await bench.pressed("escape", "tab", "up")
            wishes = await bench.pressed("enter", *", -2, +2", "enter")
            assert wishes == [Edit(key="rung.new", value="0.5 = must, -2, +2")]
            draft = draft.edited("rung.new", "0.5 = must, -2, +2")
            await bench.told(draft.told(), WishAnswer(to=len(bench.kept.wishes), ok=True, sentence=""))
            await bench.pressed(*([] if size[0] == 120 else ["tab"]))
            lines = [one[one.index("*!") :] for one in bench.rig.text().splitlines() if "*!" in one]
            assert [one[2:15].split() for one in lines] == [["9", "1/8", "s"], ["10", "2", "s"]]
            assert ["-2" in lines[0], "+2" in lines[1]] == [True, True]
            on_rungs = [] if size[0] == 80 else ["tab"]
            rungs = bench.rig.desk.screen.query_one("#rungs-list", Lines)
            await bench.pressed(*on_rungs)
            rungs.highlighted = 8
            assert await bench.pressed("m") == [Edit(key="rung.new", value="0.5 = -2, +2")], (
                "a frame around it is of it"
            )

    asyncio.run(sit())


def test_the_marked_rung_says_why_it_is_so_and_a_change_is_marked() -> None:
    async def sit() -> None:
        async with with_plan((120, 40)) as bench:
            await at_ladder(bench)
            assert "Rung 1, 1/2000 s: no ND filter" in line(bench, "#why")
            await bench.pressed("tab", *["down"] * 5)
            assert "Rung 6, 1/8 s:" in line(bench, "#why")
            assert "Before it: fit Calder 6" in line(bench, "#why")
            ladder = planned()
            rungs = tuple(replace(one, iso_label="125") if one.rung == 2 else one for one in ladder.rungs)
            await bench.told(replace(drafted(), ladder=replace(ladder, rungs=rungs)))
            marked = [one for one in bench.rig.text().splitlines() if "*  2" in one]
            assert len(marked) == 1
            await bench.told(replace(drafted(), ladder=None, mistakes=("rungs.to: this is no time.",)))
            assert "rungs.to: this is no time." in bench.rig.text()

    asyncio.run(sit())


def test_beside_the_keys_alone_it_is_said_when_the_ladder_ends_as_time_goes_on_and_what_is_wrong() -> None:
    async def sit() -> None:
        async with with_plan((80, 24)) as bench:
            await at_ladder(bench)
            assert "ends at 12:10" in line(bench, "#hint")
            desk = bench.rig.desk
            desk.moments = replace(desk.moments, wall=lambda: NOON.replace(minute=30))
            assert isinstance(desk.screen, LadderScreen)
            desk.screen.tick()
            assert "ends at 12:40" in line(bench, "#hint")
            await bench.told(replace(drafted(), ladder=None, mistakes=("rungs.to: this is no time.",)))
            assert "rungs.to: this is no time." in bench.rig.text()

    asyncio.run(sit())


def test_the_ladder_of_a_run_is_shown_with_what_is_over_and_cannot_be_edited(tmp_path: Path) -> None:
    async def sit() -> None:
        run = PlayedRun(tmp_path)
        try:
            async with at_desk(tmp_path) as rig:
                await rig.attached(run, *begun(), *held()[-3:-2])
                await rig.press("3", "u", "S", "x", "enter")
                shown = rig.text()
                assert "=  1" in shown
                assert "in hand" in rig.desk.screen.query_one("#why", TextLine).text
                assert "take back" not in shown
                assert "14 rungs, 11 min, as it was planned." in shown
                assert "begun now" not in shown, "it is begun"
        finally:
            run.end()

    asyncio.run(sit())


def test_keys_that_come_together_act_in_the_order_in_which_they_were_typed() -> None:
    async def sit() -> None:
        async with with_plan() as bench:
            await at_ladder(bench)
            await bench.pressed("down", "enter", "end")
            for key, letter in (("backspace", None), ("x", "x"), ("left", None), ("y", "y"), ("end", None), ("z", "z")):
                bench.rig.desk.post_message(Key(key, letter))
            await bench.rig.pilot.pause()
            assert await bench.pressed("enter") == [Edit(key="rungs.to", value="4:1yxz")]

    asyncio.run(sit())
