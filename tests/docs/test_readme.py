"""The README is true: its commands and their options are there, its table of keys is the program's own.

That its commands and its script run in its order, from the wheel, is told by `test_wheel.py`.
"""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path

import click
import pytest

from tether.body.simulated.world import World
from tether.command.commands import tether
from tether.control.commands import WORDS

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    """Return the code blocks of a language, in order."""
    return re.findall(rf"```{language}\n(.*?)```", README, flags=re.DOTALL)


def commands() -> list[str]:
    """Return every command line of the shell blocks, without remarks."""
    lines = [line.split("  #")[0].strip() for block in blocks("sh") for line in block.splitlines()]
    return [line for line in lines if line]


def run(command: list[str], folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        command,
        cwd=folder,
        env=os.environ | {f"XDG_{kind.upper()}_HOME": str(folder / kind) for kind in ("state", "config", "data")},
        input="",
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=200,
        check=False,
    )


def test_it_opens_with_the_job_in_one_paragraph() -> None:
    heading, paragraph, *_ = README.split("\n\n")
    assert heading == "# Tether"
    assert "moving water" in paragraph
    assert "ladder" in paragraph


def test_every_command_is_one_that_this_test_knows_how_to_run() -> None:
    assert commands()
    assert all(line.split()[0] in ("tether", "make") for line in commands())


def test_every_command_that_needs_a_camera_or_time_is_one_with_these_options() -> None:
    lines = [line.split("  #")[0].strip() for block in blocks("console") for line in block.splitlines() if line]
    assert lines
    for line in lines:
        taken(tether, shlex.split(line))


def taken(command: click.Command, words: list[str]) -> None:
    """Have a command line parsed and nothing done; fails where a command or an option is not known."""
    if isinstance(command, click.Group):
        inner = command.get_command(click.Context(command), words[1])
        assert inner is not None, words
        taken(inner, words[1:])
    else:
        command.make_context(words[0], words[1:])


@pytest.mark.prove
def test_what_make_demo_runs_makes_a_ladder_of_ten_rungs_and_more(tmp_path: Path) -> None:
    """The command that `make demo` gives the shell, once all is set up, taken from make itself."""
    made = run(["make", "-n", "-o", ".venv/ready", "demo"], ROOT)
    (line,) = [line for line in made.stdout.splitlines() if "tether rehearse" in line]
    words = shlex.split(line)[1:]
    plan = ROOT / words[1]
    done = run([sys.executable, "-m", "tether.command", words[0], str(plan), *words[2:]], tmp_path)
    assert done.returncode == 0, done.stderr
    assert "Rung 14 of 14" in done.stderr
    assert done.stderr.count("answered for me") >= 2
    (folder,) = (tmp_path / "outings").iterdir()
    names = sorted(path.name for path in (folder / "frames").iterdir())
    # Fourteen rungs, base and test exposures; at sixty times the pace a busy machine lets the light grow old, and some
    # test exposures are taken again.
    assert len(names) >= 23
    assert any("_1-2000s_" in name for name in names)
    assert any(re.search(r"_\dm\d\ds_", name) for name in names)


@pytest.mark.parametrize("target", ["demo", "test", "prove", "bench", "check", "lock", "pictures"])
def test_every_target_that_is_written_about_is_there(target: str) -> None:
    made = run(["make", "-n", "-o", ".venv/ready", target], ROOT)
    assert made.returncode == 0, made.stderr
    assert made.stdout.strip()


def test_setting_up_says_that_it_takes_minutes_and_shows_what_it_does(tmp_path: Path) -> None:
    ready = f"{tmp_path}/new/ready"
    made = run(["make", "-n", "--no-print-directory", f"VENV={tmp_path}/new", ready], ROOT).stdout
    lines = made.splitlines()
    assert f"This sets up the environment in {tmp_path}/new, once; it takes some minutes." in lines[1]
    (slow,) = [one for one in lines if "requirements.lock" in one]
    assert "--quiet" not in slow


def test_the_table_of_keys_is_the_programs_own() -> None:
    table = README[README.index("| key | does |") : README.index("Where standard input is no terminal")]
    keys = set(re.findall(r"`(.)`", table)) | ({" "} if "space" in table else set())
    assert keys == {word.key for word in WORDS}


def test_the_world_file_that_is_shown_is_one() -> None:
    (text,) = blocks("toml")
    world = World.model_validate(tomllib.loads(text))
    assert world.faults[0].what == "vanishes"
    assert world.filters["Calder 10"].stops == 10.4


def test_every_file_that_is_pointed_at_is_there() -> None:
    for target in re.findall(r"\]\(([^)#]+)\)", README):
        assert (ROOT / target).exists(), target


def named(group: click.Group, before: str = "") -> set[str]:
    """Return every command by the words that call it."""
    found: set[str] = set()
    for name, command in group.commands.items():
        found |= named(command, f"{name} ") if isinstance(command, click.Group) else {before + name}
    return found


def test_the_table_of_commands_has_each_of_them_once() -> None:
    table = README.split("## Every command")[1].split("\n## ")[0]
    cells = [line.split("|")[2] for line in table.splitlines() if line.startswith("| ") and "---" not in line]
    assert sorted(re.findall(r"`([^`]+)`", " ".join(cells))) == sorted(named(tether))


def test_what_to_do_when_something_is_wrong_names_commands_and_options_that_are_there() -> None:
    table = README.split("## When something is wrong")[1].split("\n## ")[0]
    lines = re.findall(r"`(tether [^`]+)`", table)
    assert len(lines) > 5
    for line in lines:
        taken_words = [word for word in shlex.split(line)[1:] if word.islower() and not word.startswith("-")]
        command: click.Command = tether
        for word in taken_words:
            assert isinstance(command, click.Group), line
            command = command.commands[word]
        options = {option for parameter in command.params for option in parameter.opts}
        assert {word for word in shlex.split(line) if word.startswith("--")} <= options, line
