"""The manual page: every command and every option of it, in the language of man(7)."""

from __future__ import annotations

import re
import shutil
import subprocess

import click
import pytest

from tests.command.test_json import commands
from tether.command.commands import tether
from tether.command.manual import manual

PAGE = manual(tether, "1.2-beta")
#: What man(7) knows and is used here.
REQUESTS = {"TH", "SH", "SS", "PP", "TP"}


def test_it_begins_with_its_name_and_version() -> None:
    first, *_ = PAGE.splitlines()
    assert first == r'.TH TETHER 1 "" "tether 1.2\-beta" "User Commands"'


def test_every_command_and_every_option_is_in_it() -> None:
    for name, command in commands():
        assert f'.SS "tether {name}"'.replace("-", r"\-") in PAGE
        for one in command.params:
            if isinstance(one, click.Option):
                assert all(option.replace("-", r"\-") in PAGE for option in one.opts), (name, one.opts)


def test_only_requests_begin_with_a_dot_and_no_hyphen_is_left_to_be_broken() -> None:
    for line in PAGE.splitlines():
        if line.startswith("."):
            assert line.split()[0][1:] in REQUESTS, line
        assert not re.search(r"(?<!\\)-", line), line


def test_text_that_man_would_take_for_its_own_stays_text() -> None:
    @click.command(help=".jpg is written, and C:\\x too")
    def odd() -> None:
        pass

    group = click.Group("odd", commands={"one": odd}, help="Odd.")
    assert "\n\\&.jpg is written, and C:\\ex too\n" in manual(group, "1")


@pytest.mark.prove
def test_groff_has_nothing_to_say_against_it() -> None:
    groff = shutil.which("groff")
    assert groff is not None, "groff is not installed"
    done = subprocess.run(
        [groff, "-man", "-Kutf8", "-Tutf8", "-ww", "-z"], input=PAGE, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
