"""``tether page`` as a person starts it: the link and the code in the terminal, what is said, new links, its end."""

from __future__ import annotations

import io
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from rich.console import Console

from tests.command.terminal import Terminal
from tests.page.rig import FakeRun
from tether.command.commands import tether
from tether.command.paging import code_of, say_beforehand
from tether.page.serving import open_place

LINK = re.compile(r"http://[\d.]+:\d+/#[\w-]{32}")


@pytest.fixture
def run(tmp_path: Path) -> Iterator[FakeRun]:
    with closing(FakeRun(tmp_path / "weir")) as run:
        yield run


def port() -> str:
    """Return a port that is free at this moment."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return str(free.getsockname()[1])


def test_a_link_is_shown_a_new_one_at_enter_and_it_ends_with_control_c(run: FakeRun) -> None:
    with Terminal(run.outing.parent, "page", "--page-port", port()) as terminal:
        terminal.wait_for("Press Enter for a new link.")
        (first,) = LINK.findall(terminal.seen)
        assert "locked phone will not ring" in terminal.seen
        assert "read along" not in terminal.seen
        assert "▀" not in terminal.seen  # a phone can't reach it, so there is no code
        assert status_of(first) == 403
        terminal.press("\n")
        terminal.wait_for("Press Enter for a new link.")
        assert len(set(LINK.findall(terminal.seen))) == 2
        terminal.process.send_signal(signal.SIGINT)
        terminal.wait_for("the run is not touched")
        assert terminal.end() == 0


def status_of(link: str) -> int:
    """Ask for the page as a program does that looks at links ahead; wait until it serves."""
    until = time.monotonic() + 30
    while True:
        try:
            with urllib.request.urlopen(link.partition("#")[0], timeout=5) as answer:  # noqa: S310 - our own
                return int(answer.status)
        except urllib.error.HTTPError as refused:
            with refused:
                return refused.code
        except urllib.error.URLError:
            assert time.monotonic() < until


def test_a_link_to_watch_is_shown_where_asked_for_and_it_ends_when_told_to(run: FakeRun) -> None:
    words = ("page", "Weir", "--network", "127.0.0.1", "--page-port", port(), "--watchers")
    with Terminal(run.outing.parent, *words) as terminal:
        terminal.wait_for("Press Enter for a new link.")
        assert "to watch only" in terminal.seen
        assert len(set(LINK.findall(terminal.seen))) == 2
        terminal.process.send_signal(signal.SIGTERM)
        assert terminal.end() == 0


@pytest.mark.parametrize(("on_network", "is_public"), [(False, False), (True, False), (True, True)])
def test_who_can_read_along_is_said_beforehand(on_network: bool, is_public: bool, tmp_path: Path) -> None:
    place = open_place(None, 0)
    with closing(place.listening):
        said = io.StringIO()
        shown = replace(place, on_network=on_network, is_public=is_public)
        say_beforehand(shown, tmp_path, Console(file=said, width=200))
    assert "locked phone will not ring" in said.getvalue()
    assert ("can read along" in said.getvalue()) is on_network
    assert ("whole internet" in said.getvalue()) is is_public


def test_standard_output_is_the_links_alone(run: FakeRun) -> None:
    command = [sys.executable, "-m", "tether.command", "page", "--page-port", port(), "--watchers"]
    with subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as process:
        assert process.stdout is not None
        lines = [process.stdout.readline() for _ in range(2)]
        process.send_signal(signal.SIGINT)
        assert process.stdout.read() == ""
        assert process.wait(30) == 0
    assert all(LINK.fullmatch(line.strip()) for line in lines)


def test_a_code_is_square_and_fits_a_small_terminal() -> None:
    lines = code_of("http://192.168.178.120:8437/#" + "x" * 32).splitlines()
    assert len({len(line) for line in lines}) == 1
    assert len(lines) <= 23
    assert len(lines[0]) <= 46
    assert set("".join(lines)) <= set("█▀▄ ")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--network", "0.0.0.0"], "stands for every network"),  # noqa: S104 - to be refused
        (["--network", "192.0.2.7"], "not an address of this machine"),
        (["--network", "phone"], "this is not an address"),
        (["nowhere"], 'No run is called "nowhere"'),
    ],
)
def test_what_cannot_be_served_is_a_sentence(run: FakeRun, words: list[str], sentence: str) -> None:
    done = CliRunner().invoke(tether, ["page", *words, "--page-port", port()])
    assert done.exit_code != 0
    assert sentence in str(done.exception)
    assert not LINK.search(done.output)


def test_help_of_the_program_loads_no_server() -> None:
    script = """
import sys
from tether.command.commands import tether
try:
    tether(["--help"])
except SystemExit:
    print(sorted({"uvicorn", "starlette", "segno", "tether.page.app"} & set(sys.modules)))
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
