"""The log at the desk: what can be started is said where nothing runs."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from rich.console import Console, ConsoleOptions

from tests.desk.rig import at_desk
from tests.journal.outings import ladder_started, run_started, write_outing
from tests.report.printing import printed
from tests.report.test_audit import base
from tests.report.test_evening import bare
from tether.desk.log_screen import LogScreen, _Rendered


def idle(state: str, outcome: str | None) -> str:
    """Return what is said beside the log of an outing whose last ladder came to this; None: there is no ladder."""
    screen: Any = SimpleNamespace(desk=SimpleNamespace(sight=SimpleNamespace(state=state, outing=Path("dusk"))))
    told: Any = SimpleNamespace(ladders=[] if outcome is None else [SimpleNamespace(outcome=outcome)])
    return LogScreen._idle(screen, told)


@pytest.mark.parametrize("state", ["attached", "lost"])
def test_where_a_run_goes_on_nothing_is_offered(state: str) -> None:
    assert idle(state, "stopped") == ""


@pytest.mark.parametrize(("outcome", "resumed"), [("stopped", True), ("failed", True), ("done", False), (None, False)])
def test_a_ladder_that_is_not_done_can_be_gone_on_with(outcome: str | None, resumed: bool) -> None:
    said = idle("over", outcome)
    assert said.startswith("Nothing is running.")
    assert ("Resume this ladder:  tether run dusk" in said.splitlines()) is resumed
    assert "tether rehearse PLAN" in said


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
