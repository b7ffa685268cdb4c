"""“Your turn” at the desk: which keys answer it and when, and that it rings and flashes until it is answered."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from tests.desk.rig import TURN, WAVE, PlayedRun, Rig, answered, asked, begun
from tests.desk.test_run_screen import play
from tether.desk.letters import drawn
from tether.desk.turn_screen import RINGS_EVERY_S, TurnScreen
from tether.desk.widgets import Large
from tether.journal.records import StateChanged


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


def test_the_key_of_a_remote_answers_where_it_was_named_and_is_deaf_for_two_seconds_too(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *asked())
        await rig.shows("Space, enter or page down: it is done.")
        rig.hands.at_s += 1.9
        await rig.press("pagedown")
        await rig.shows("pagedown came within 2 s of the question and was not taken.")
        rig.hands.at_s += 2
        await rig.press("pageup")
        assert run.said.empty()
        rig.hands.at_s += 2
        await rig.press("pagedown")
        assert await rig.heard(run) == "answer"

    play(run, do, answer_key=("page down", "pagedown"))


def test_a_remotes_key_that_has_another_meaning_steers_nothing_when_it_comes_late(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *asked())
        rig.hands.at_s += 2
        await rig.press("b")
        assert await rig.heard(run) == "answer"
        await rig.attached(run, *answered())
        await rig.press("b", "d")
        assert await rig.heard(run) == "darker", "b says brighter where it is not the remote's"

    play(run, do, answer_key=("b", "b"))


def test_it_rings_by_the_persons_command_too(run: PlayedRun) -> None:
    class Rings:
        trouble = "It may not have rung: bell failed."
        rung = 0

        def ring(self) -> None:
            self.rung += 1

    ringer = Rings()

    async def do(rig: Rig) -> None:
        await rig.attached(run, *asked())
        await rig.until(lambda: ringer.rung == len(rig.bells) == 1)
        await rig.shows("It may not have rung: bell failed.")

    play(run, do, ringer=ringer)


def test_no_other_key_answers_a_turn(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *asked())
        for key in ("j", "x", "f5", "up", "tab", "backspace"):
            rig.hands.at_s += 10
            await rig.press(key)
            await rig.shows("Space or enter: it is done. No other key says so.")
            rig.hands.at_s += 0.5
            await rig.press("p")
            await rig.shows("Was this key meant for this?")  # so that the next sentence is a new one
        assert run.said.empty()

    play(run, do)


def test_a_new_question_is_deaf_for_two_seconds_and_says_what_came_too_early(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *asked())
        rig.hands.at_s += 1.9
        await rig.press("space")
        await rig.shows("space came within 2 s of the question and was not taken. Press it again.")
        await rig.press("question_mark")
        await rig.shows("? came within 2 s")
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


@pytest.mark.parametrize(("size", "rows"), [((60, 20), 12), ((80, 24), 12), ((120, 40), 20)])
def test_what_is_to_be_done_is_the_largest_and_whole(run: PlayedRun, size: tuple[int, int], rows: int) -> None:
    """In letters of four lines, three lines of them; larger where there is room."""
    what = "take off Peat 3, fit Peat 6"
    turn = replace(
        TURN,
        what=what,
        reason="rung 5, 1/15 s, is made with Peat 6",
        light_stops_per_min=-0.3,
        otherwise="it is skipped",
        fitted=["Peat 6"],
    )

    async def do(rig: Rig) -> None:
        await rig.attached(run, *begun(), StateChanged(before="ready", state="your turn", at_ns=0), turn)
        await rig.shows("Space or enter")
        shown = rig.desk.screen.query_one("#what", Large)
        lines = drawn(what, *shown.size)
        assert lines is not None
        assert len(lines) >= rows
        for line in lines:
            assert line.strip() in rig.text()
        above = rig.desk.screen.query_one("#large", Large).size.height
        assert above < shown.size.height / 2

    play(run, do, size=size)


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
def test_what_waiting_costs_and_what_comes_of_leaving_it_out_are_said(run: PlayedRun, size: tuple[int, int]) -> None:
    turn = replace(TURN, light_stops_per_min=-0.3, otherwise="rung 5 is skipped from here on", fitted=["Calder 6"])

    async def do(rig: Rig) -> None:
        await rig.attached(run, *begun(), StateChanged(before="ready", state="your turn", at_ns=0), turn)
        await rig.shows("Space or enter")
        words = " ".join(rig.text().split())
        assert "Waiting costs light: it falls by 0.3 stop a minute." in words
        assert "Space or enter: it is done." in words
        assert "s: leave it out; rung 5 is skipped from here on." in words
        assert "m: not in the bag; the ladder without it is told first." in words
        rig.hands.at_s += 2
        await rig.press("m")
        assert await rig.heard(run) == "not in the bag"

    play(run, do, size=size)
