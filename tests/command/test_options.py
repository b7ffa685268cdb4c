"""The names of options mean one thing in every command, and a number says what it counts."""

from __future__ import annotations

from collections import defaultdict

import click
import pytest
from click.testing import CliRunner

from tests.command.test_json import commands
from tether.command.commands import tether
from tether.control.commands import WORDS
from tether.errors import PlanError

#: What each option that takes a number must name in its help.
UNITS = {
    "--focal": "mm",
    "--frames": "Frames",
    "--headroom": "Stops",
    "--ladder": "number",
    "--others": "count",
    "--page-port": "TCP port",
    "--repeats": "exposures",
    "--rest": "frame",
    "--rung": "number",
    "--span": "seconds",
    "--times": "seconds",
    "--water": "frame",
}
#: The same of options that take a quantity as text.
WRITTEN = {
    "--aperture": "f-number",
    "--at": "05:40",
    "--date": "2026-06-21",
    "--every": "20m",
    "--filter": "stops",
    "--from": "21:30",
    "--in": "45m",
    "--iso": "ISO",
    "--longest": "4m",
    "--narrowest": "f-number",
    "--pace": "Seconds",
    "--place": "degrees",
    "--rungs": "numbers",
    "--shortest": "seconds",
    "--start": "seconds",
    "--time": "seconds",
    "--until": "21:30",
    "--widest": "f-number",
}


def options() -> list[tuple[str, str, click.Option]]:
    """Return every option of every command: the command, the option's name, and the option."""
    return [
        (name, spelled, one)
        for name, command in commands()
        for one in command.params
        if isinstance(one, click.Option)
        for spelled in one.opts
    ]


def test_an_option_of_a_name_is_the_same_in_every_command() -> None:
    meanings: dict[str, dict[tuple[str | None, str, bool, bool], list[str]]] = defaultdict(lambda: defaultdict(list))
    for command, name, one in options():
        assert one.help, f"tether {command} {name} has no help"
        meanings[name][one.help, repr(one.type), one.is_flag, one.multiple].append(command)
    several = {name: dict(found) for name, found in meanings.items() if len(found) > 1}
    assert not several


def test_an_argument_of_a_name_is_of_one_kind_in_every_command() -> None:
    kinds: dict[str, set[str]] = defaultdict(set)
    for _, command in commands():
        for one in command.params:
            if isinstance(one, click.Argument) and one.name not in ("file", "name", "names"):
                kinds[one.name or ""].add(one.type.name)
    assert kinds["outing"] == {"outing"}
    assert kinds["plan"] == {"plan"}
    assert all(len(found) == 1 for found in kinds.values()), kinds


def test_every_number_names_what_it_counts() -> None:
    numbers = (click.types.IntParamType, click.types.FloatParamType)
    found = {name: one.help or "" for _, name, one in options() if isinstance(one.type, numbers)}
    assert set(found) <= set(UNITS), "a number whose unit nobody has written down"
    assert [name for name, text in found.items() if UNITS[name] not in text] == []


@pytest.mark.parametrize("name", sorted(WRITTEN))
def test_a_quantity_that_is_written_as_text_says_how(name: str) -> None:
    (text,) = {one.help for _, found, one in options() if found == name}
    assert WRITTEN[name] in (text or "")


def test_help_has_every_word_that_a_run_understands() -> None:
    told = " ".join((dict(commands())["say"].help or "").split())
    assert [word.verb for word in WORDS if word.verb not in told] == []


@pytest.mark.parametrize("pace", ["0", "-1", "1001", "fast", ""])
@pytest.mark.parametrize("command", ["rehearse", "desk"])
def test_a_pace_that_is_none_is_refused_in_every_command(command: str, pace: str) -> None:
    refused = CliRunner().invoke(tether, [command, "none.toml", "--pace", pace]).exception
    assert isinstance(refused, PlanError)
    assert f'--pace "{pace}": write 1 for real time' in str(refused)
