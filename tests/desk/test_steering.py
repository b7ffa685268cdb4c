"""What a person does at the desk: first what was said to the run, then what is on the screen."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Iterator
from itertools import pairwise
from pathlib import Path

import pytest

from tests.desk.rig import TURN, WAVE, PlayedRun, Rig, answered, asked, at_desk, begun, held
from tests.journal.shown import ladder_ended
from tether.control.commands import STOPS, WORDS
from tether.desk.turn_screen import RINGS_EVERY_S, TurnScreen
from tether.journal.records import CloseMoved, Said, StateChanged, Turn

Play = Callable[[Rig], Awaitable[None]]


@pytest.fixture
def run(tmp_path: Path) -> Iterator[PlayedRun]:
    run = PlayedRun(tmp_path)
    yield run
    run.end()


def play(run: PlayedRun, do: Play, *, size: tuple[int, int] = (80, 24)) -> None:
    """Sit at a desk that is attached to a run and do something."""

    async def sit() -> None:
        async with at_desk(run.outing, size) as rig:
            await do(rig)

    asyncio.run(sit())


def test_every_verb_is_on_its_key_and_reaches_the_run(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *held())
        for word in WORDS:
            if word.verb not in STOPS:
                await rig.press("space" if word.key == " " else word.key)
                assert await rig.heard(run) == word.verb
        assert run.said.empty()

    play(run, do)


@pytest.mark.parametrize("verb", STOPS)
def test_a_stop_is_asked_about_once(run: PlayedRun, verb: str) -> None:
    key = next(word.key for word in WORDS if word.verb == verb)

    async def do(rig: Rig) -> None:
        await rig.attached(run, *held())
        await rig.press(key)
        await rig.shows("Stop how?")
        await rig.press("escape")
        await rig.press("a")
        assert await rig.heard(run) == "again"  # nothing was said by the first key
        await rig.press(key, "enter")
        assert await rig.heard(run) == verb
        await rig.press("q", key)
        assert await rig.heard(run) == verb

    play(run, do)


def test_keys_can_be_clicked(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *held())
        row, line = next((row, line) for row, line in enumerate(rig.text().splitlines()) if "longer" in line)
        await rig.pilot.click(offset=(line.index("longer") + 1, row))
        assert await rig.heard(run) == "longer"

    play(run, do)


def test_the_palette_finds_a_verb(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *held())
        await rig.press("ctrl+p", *"brighter")
        await rig.shows("a third of a stop brighter")
        await rig.press("enter")
        assert await rig.heard(run) == "brighter"

    play(run, do)


@pytest.mark.parametrize("key", ["space", "enter"])
def test_space_and_enter_answer_a_turn(run: PlayedRun, key: str) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *asked())
        await rig.shows("rung 5, 1/15 s, is made with Calder 6")
        rig.hands.at_s += 2
        await rig.press(key)
        assert await rig.heard(run) == "answer"
        await rig.shows("The run is told: answer.")
        await rig.attached(run, *answered())
        assert not isinstance(rig.desk.screen, TurnScreen)

    play(run, do)


@pytest.mark.parametrize("key", ["j", "x", "f5", "up", "tab", "backspace"])
def test_no_other_key_answers_a_turn(run: PlayedRun, key: str) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *asked())
        rig.hands.at_s += 10
        await rig.press(key)
        await rig.shows("Space or enter: it is done. No other key says so.")
        assert run.said.empty()

    play(run, do)


def test_a_new_question_is_deaf_for_two_seconds_and_says_what_came_too_early(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *asked())
        rig.hands.at_s += 1.9
        await rig.press("space")
        await rig.shows("space came within 2 s of the question and was not taken. Press it again.")
        assert run.said.empty()
        rig.hands.at_s += 1.1
        await rig.press("space")
        assert await rig.heard(run) == "answer"

    play(run, do)


def test_a_turn_can_be_left_out_or_stopped_at_or_set_aside(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *asked())
        rig.hands.at_s += 2
        await rig.press("s")
        assert await rig.heard(run) == "skip"
        rig.hands.at_s += 2
        await rig.press("w")
        await rig.shows("Stop how?")
        await rig.press("escape", "escape")
        await rig.shows("YOUR TURN: fit Calder 6")
        await rig.press("space")
        assert await rig.heard(run) == "answer"

    play(run, do)


def test_a_key_that_was_meant_for_something_else_does_not_answer(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *asked())
        rig.hands.at_s += 2
        for _ in range(3):
            rig.hands.at_s += 0.5
            await rig.press("up")
        await rig.press("b")
        await rig.shows("Press it once more in a moment")
        rig.hands.at_s += 1.5
        await rig.press("enter")
        assert await rig.heard(run) == "answer"
        assert run.said.empty()

    play(run, do)


def test_at_a_turn_help_looks_screens_and_verbs_are_what_they_are_and_answer_nothing(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *asked())
        rig.hands.at_s += 2
        await rig.press("question_mark")
        await rig.shows("help: your turn")
        await rig.press("escape")
        look = rig.desk.theme
        rig.hands.at_s += 2
        await rig.press("v")
        assert rig.desk.theme != look
        rig.hands.at_s += 2
        await rig.press("p")
        assert await rig.heard(run) == "pause"
        rig.hands.at_s += 2
        await rig.press("3")
        await rig.shows("YOUR TURN: fit Calder 6")
        assert run.said.empty()

    play(run, do)


def test_a_frame_that_waits_for_the_key_is_taken_at_the_first(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *begun(), StateChanged(before="ready", state="waiting for your key", at_ns=0), WAVE)
        await rig.press("space")
        assert await rig.heard(run) == "answer"

    play(run, do)


def test_a_turn_is_answered_beforehand(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *held())
        await rig.press("y")
        assert await rig.heard(run) == "answer ahead"

    play(run, do)


def test_it_rings_at_once_and_every_twenty_seconds_until_it_is_answered(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *asked())
        screen = rig.desk.screen
        assert isinstance(screen, TurnScreen)
        assert len(rig.bells) == 1
        for _ in range(100):  # fifty seconds
            rig.hands.at_s += 0.5
            screen.tick()
        assert rig.bells == [100.0, 100.0 + RINGS_EVERY_S, 100.0 + 2 * RINGS_EVERY_S]
        await rig.press("enter")
        await rig.heard(run)
        await rig.shows("The run is told")
        rig.hands.at_s += 100
        screen.tick()
        assert len(rig.bells) == 3
        assert not screen.has_class("flash")

    play(run, do)


def test_it_flashes_no_more_than_once_a_second(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *asked())
        screen = rig.desk.screen
        assert isinstance(screen, TurnScreen)
        shown = []
        for _ in range(200):  # ten seconds
            rig.hands.at_s += 0.05
            screen.tick()
            shown.append(screen.has_class("flash"))
        flashes = sum(now and not before for before, now in pairwise(shown))
        assert 4 <= flashes <= 10

    play(run, do)


def test_the_same_turn_asked_again_rings_again(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *asked())
        rig.hands.at_s += 2
        await rig.press("space")
        assert await rig.heard(run) == "answer"
        await rig.shows("The run is told")
        await rig.attached(run, *answered(), TURN)
        assert len(rig.bells) == 2
        assert "The run is told" not in rig.text()

    play(run, do)


def test_a_turn_answered_from_elsewhere_goes_away_also_under_a_question(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *asked())
        rig.hands.at_s += 2
        await rig.press("q")
        await rig.shows("Stop how?")
        await rig.attached(run, *answered())
        await rig.shows("Stop how?")
        await rig.press("escape")
        await rig.shows("Rung 5 of 14")
        assert "YOUR TURN" not in rig.text()

    play(run, do)


def test_the_close_moves_with_the_run(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *held(left_s=725))
        await rig.shows("closes at 12:12:05")
        assert rig.desk.screen.query_one("#large").text == "12:05"  # type: ignore[attr-defined]
        closes_ns = rig.desk.sight.snapshot.open.closes_at_ns  # type: ignore[union-attr]
        await rig.attached(run, CloseMoved(frame=7, closes_at_ns=closes_ns + 60 * 10**9))
        await rig.shows("closes at 12:13:05")
        assert rig.desk.screen.query_one("#large").text == "13:05"  # type: ignore[attr-defined]

    play(run, do)


def test_verbs_for_an_open_shutter_are_shown_while_one_is_held(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *begun())
        assert "longer" not in rig.text()
        await rig.attached(run, *held()[-3:])
        await rig.shows("longer")
        assert all(word in rig.text() for word in ("shorter", "close and keep"))

    play(run, do)


def test_trouble_is_told_where_the_eye_is(run: PlayedRun) -> None:
    trouble = "The camera does not answer; look at the cable."

    async def do(rig: Rig) -> None:
        said = Said(about="trouble", text=trouble)
        await rig.attached(run, *begun(), said, StateChanged(before="ready", state="in trouble", at_ns=0))
        assert trouble in "".join(rig.text().splitlines()[2:3])

    play(run, do)


def test_what_the_run_refuses_is_said(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *begun(), ladder_ended("done"))
        await rig.shows("The ladder is finished: done.")
        await rig.press("p")
        await rig.shows("there is nothing left to steer")
        assert run.said.empty()

    play(run, do)


@pytest.mark.parametrize("key", ["ctrl+c", "ctrl+q"])
@pytest.mark.parametrize("events", [held(), asked()], ids=["open", "turn"])
def test_leaving_says_nothing_to_the_run(run: PlayedRun, key: str, events: list[Turn]) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *events)
        await rig.press(key)
        await rig.until(lambda: not rig.desk.is_running)
        assert rig.desk.sight.state == "attached"

    play(run, do)
    assert run.said.empty()
