"""The log at the desk: what can be started is said where nothing runs."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console, ConsoleOptions

from tests.desk.rig import PlayedRun, Rig, at_desk, begun, planned
from tests.desk.test_run_screen import play
from tests.journal.outings import ladder_started, run_started, write_outing
from tests.journal.shown import ladder_ended, rung_ended
from tests.report.printing import printed
from tests.report.test_audit import base
from tests.report.test_evening import bare
from tether.desk import resuming
from tether.desk.log_screen import _Rendered
from tether.journal.records import LadderOutcome, Record


@pytest.mark.parametrize(("outcome", "left"), [("stopped after a frame", "12 rungs are left"), ("done", "")])
def test_a_ladder_that_is_not_done_is_resumed_by_a_key_on_a_desk_opened_on_its_outing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, outcome: LadderOutcome, left: str
) -> None:
    """Of fourteen rungs the first is done, the second in part, the third was skipped."""
    ended: list[Record] = [
        rung_ended(1, "done"),
        rung_ended(2, "done in part"),
        rung_ended(3, "skipped"),
        ladder_ended(outcome),
    ]
    write_outing(tmp_path / "dusk", [run_started(), replace(ladder_started(), planned=planned()), *ended])
    monkeypatch.chdir(tmp_path)
    resumed: list[Path] = []

    def not_there(outing: Path) -> str:
        resumed.append(outing)
        return "The camera is not there."

    monkeypatch.setattr(resuming, "resumed", not_there)

    async def sit() -> None:
        async with at_desk(tmp_path / "dusk", (80, 24)) as rig:
            await rig.shows("Nothing is running.")
            if not left:
                assert "resume" not in rig.text()
                return
            assert f"B: resume this ladder, {left}" in rig.text()
            assert "Or later:  tether run dusk" in rig.text()
            for key in "135":
                await rig.press(key, "B")
                await rig.shows(f"The ladder of dusk: {left}.")
                await rig.press("escape")
            await rig.press("4")
            await rig.shows(f"B: resume this ladder, {left}")
            await rig.press("B", "enter")
            await rig.shows("The camera is not there.")
            assert resumed == [tmp_path / "dusk"]

    asyncio.run(sit())


def test_a_ladder_that_was_stopped_here_is_resumed_by_the_same_key_and_the_desk_turns_to_its_run(
    run: PlayedRun, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(resuming, "resumed", lambda _: "")

    async def do(rig: Rig) -> None:
        await rig.attached(run, *begun(), ladder_ended("stopped after a frame"))
        await rig.shows("B: resume this ladder, 10 rungs are left")
        await rig.press("6", "B", "enter")
        await rig.until(lambda: rig.desk.screen.CALLED == "run")  # type: ignore[attr-defined]

    play(run, do)


@pytest.mark.parametrize(("size", "drawn"), [((120, 40), True), ((80, 24), False)])
def test_where_there_is_room_the_light_stands_above_the_log(tmp_path: Path, size: tuple[int, int], drawn: bool) -> None:
    write_outing(tmp_path, [run_started(), ladder_started(), *base(), *bare(2, -0.5), *bare(3, -1.0)])

    async def sit() -> None:
        async with at_desk(tmp_path, size) as rig:
            await rig.press("6")
            if drawn:
                await rig.shows("Light: stops against the base frames")
                await rig.shows("● without filters")
            else:
                await rig.shows("Outing")
                assert "Light: stops" not in rig.text()

    asyncio.run(sit())


def test_a_log_is_rendered_once_for_each_width() -> None:
    rendered = []

    class Counts:
        def __rich_console__(self, _console: Console, options: ConsoleOptions) -> Iterator[str]:
            rendered.append(options.max_width)
            yield "a line"

    once = _Rendered(Counts())
    for width in (80, 80, 100, 80):
        assert printed(once, width) == "a line\n"
    assert rendered == [80, 100]
