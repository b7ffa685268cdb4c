"""The two consoles: data on standard output, talk on standard error, and no text of others steers the terminal."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from rich.panel import Panel
from rich.text import Text

from tests.report.test_harmless import HOSTILE, steers
from tether.command import common


@pytest.mark.parametrize("text", HOSTILE)
@pytest.mark.parametrize("console", ["out", "talk"])
def test_the_consoles_print_it_harmless_whatever_it_stands_in(
    text: str, console: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = getattr(common, console)()
    page.file = io.StringIO()
    for what in (text, Text(text), Panel(Text(text)), f"[bold]{text}[/bold]"):
        page.print(what)
        page.print(what, soft_wrap=True)
    assert not steers(page.file.getvalue())
    assert "[bold]" in page.file.getvalue(), "markup in a text is text"


def test_what_the_library_says_itself_still_steers_the_terminal() -> None:
    page = common._Harmless(file=io.StringIO(), force_terminal=True, color_system="truecolor")
    page.print(Text("\x1b[31mred", style="bold"))
    said = page.file.getvalue()  # type: ignore[attr-defined]
    assert said.startswith("\x1b[1m")
    assert "␛[31mred" in said


def test_data_and_talk_go_their_own_ways(capsys: pytest.CaptureFixture[str]) -> None:
    common.out().print("data")
    common.talk().print("talk")
    common.echo("a line " + "x" * 200)
    said = capsys.readouterr()
    assert said.out.splitlines() == ["data", "a line " + "x" * 200]
    assert said.err == "talk\n"


@pytest.mark.parametrize("text", HOSTILE)
def test_a_line_and_json_are_harmless_and_json_stays_what_it_was(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    common.echo(text)
    assert not steers(capsys.readouterr().out)
    common.print_json({"text": "weir", "hostile": text})
    said = capsys.readouterr().out
    assert not steers(said)
    assert json.loads(said)["text"] == "weir"


def test_what_is_said_on_leaving_has_each_command_whole_on_a_line_of_its_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    outing = tmp_path / "outings" / "2026-11-27_gull-fall-above-the-ford"
    monkeypatch.chdir(tmp_path)
    page = common._Harmless(file=io.StringIO(), width=40)
    common.say_left("You have left the desk.", "desk", outing, page)
    assert page.file.getvalue().splitlines() == [  # type: ignore[attr-defined]
        "You have left the desk.",
        "  tether desk outings/2026-11-27_gull-fall-above-the-ford",
        "Stop it:",
        "  tether stop outings/2026-11-27_gull-fall-above-the-ford",
    ]
