"""What a person does at the desk: first what was said to the run, then what is on the screen."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Awaitable, Callable
from dataclasses import replace
from functools import reduce
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from tests.desk.rig import NOON, TURN, Hands, PlayedRun, Rig, asked, at_desk, begun, held
from tests.journal.outings import run_started, write_outing
from tests.journal.shown import exposed, ladder_ended
from tether.clock import AffineClock
from tether.control.attachment import RunView
from tether.control.commands import STOPS, WORDS
from tether.desk import app
from tether.desk.letters import drawn
from tether.desk.run_screen import RunScreen
from tether.desk.screens import wrong
from tether.desk.widgets import Keys
from tether.journal.records import CloseMoved, Record, RegionsShown, Said, StateChanged, Turn, WishesChanged
from tether.journal.snapshot import Snapshot, after
from tether.journal.telling import OutingReader

REGIONS = RegionsShown(picture="readings/ladder-1.jpg", found="water 33%, rock 33% of the picture", state="asked")
Play = Callable[[Rig], Awaitable[None]]


def play(run: PlayedRun, do: Play, *, size: tuple[int, int] = (80, 24), **more: Any) -> None:
    """Sit at a desk that is attached to a run and do something."""

    async def sit() -> None:
        async with at_desk(run.outing, size, **more) as rig:
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


def test_a_stop_says_which_frames_are_safe_and_which_stay_on_the_card(run: PlayedRun) -> None:
    """Six frames are copied, the seventh was made and is not."""

    async def do(rig: Rig) -> None:
        await rig.attached(run, *begun(), exposed(7, 5, "rung"))
        await rig.press("X")
        await rig.shows("Stop how?")
        assert "leave at once: the 6 frames copied are safe, 1 stays on the card" in " ".join(rig.text().split())
        assert "drop" not in rig.text()

    play(run, do)


def test_a_task_that_was_done_can_be_taken_back_by_a_key_that_is_shown(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *asked())
        assert "take back" not in rig.text()
        done = replace(TURN, state="answered", fitted=["Calder 6"])
        await rig.attached(run, done, StateChanged(before="your turn", state="ready", at_ns=0))
        await rig.shows("u take back")

    play(run, do, size=(120, 40))


@pytest.mark.parametrize("more", [[], [WishesChanged(pending=["stop after this frame"])], [REGIONS]], ids=str)
def test_at_80_columns_five_frames_and_large_letters_have_room_and_keys_two_lines(
    run: PlayedRun, more: list[Record]
) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *held(), *more)
        await rig.shows("12:12:05")
        lines = rig.text().splitlines()
        assert sum("copied" in line for line in lines) == 5
        countdown = drawn("12:05", 78, 4)
        assert countdown is not None
        assert all(line.strip() in rig.text() for line in countdown)
        (keys,) = rig.desk.screen.query(Keys)
        assert keys.size.height <= 2
        assert "l longer  k shorter  c close and keep" in rig.text()
        assert "? help" in lines[-1]

    play(run, do)


def test_pause_is_offered_while_it_goes_on_and_go_on_while_it_is_paused(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *begun())
        assert "p pause" in rig.text()
        assert "go on" not in rig.text()
        await rig.attached(run, StateChanged(before="ready", state="paused", at_ns=0))
        assert "g go on" in rig.text()
        assert "p pause" not in rig.text()

    play(run, do)


def test_a_desk_that_is_opened_on_a_run_attaches_without_waiting_for_its_journal(
    run: PlayedRun, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of thousands of frames a journal takes longer to read than the run to say how it stands."""
    read: list[threading.Thread] = []
    monkeypatch.setattr(OutingReader, "now", lambda _: read.append(threading.current_thread()))
    write_outing(run.outing, [run_started()])

    async def do(rig: Rig) -> None:
        await rig.attached(run, *begun())
        await rig.shows("4 of 14 rungs")
        assert "SIMULATED" in rig.text()
        assert threading.main_thread() not in read

    play(run, do)


def test_where_the_run_that_was_there_is_gone_the_journal_tells_after_a_moment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(app, "_ATTACHES_WITHIN_S", 0.2)
    monkeypatch.setattr(app, "_first_place", lambda *_: "run")
    write_outing(tmp_path / "dusk", [run_started()])

    async def sit() -> None:
        async with at_desk(tmp_path / "dusk") as rig:
            await rig.shows("NO RUN" if rig.desk.attaching is False else "Attaching to the run.")
            await rig.shows("Nothing is running in this outing: its frames are under 5")
            assert "has not begun" not in rig.text()
            await rig.shows("SIMULATED")

    asyncio.run(sit())


def test_a_run_that_is_gone_is_resumed_by_a_key() -> None:
    said = wrong(RunView(state="gone", outing=Path("outings/weir")), 0.0, 0.0)
    assert said.endswith("See to the camera, then resume it: B.")


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


def test_a_turn_is_answered_beforehand(run: PlayedRun) -> None:
    async def do(rig: Rig) -> None:
        await rig.attached(run, *held())
        await rig.press("y")
        assert await rig.heard(run) == "answer ahead"

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
        await rig.shows("The ladder has ended: done.")
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


def test_the_time_of_day_at_which_a_frame_closes_is_said_to_be_rehearsed_where_it_is_not_the_days() -> None:
    told = []
    for clock in (AffineClock(), replace(AffineClock(), origin_utc=NOON), AffineClock(pace=60.0, origin_utc=NOON)):
        sight = RunView(clock=clock, snapshot=reduce(after, held(left_s=725), Snapshot()))
        desk = SimpleNamespace(sight=sight, moments=Hands().moments())
        told.append(RunScreen._closes(SimpleNamespace(desk=desk)))  # type: ignore[arg-type]
    closes = "Frame 7 closes at 12:12:05"
    assert told == [closes, f"{closes} (rehearsed time)", f"{closes} (rehearsed time), 60 times as fast"]
