"""The client that the notes on the socket show is one: it attaches, says a word, hears what happens."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.control.rig import CLOCK, FACTS, LAST, SOON_S
from tests.journal.shown import TellingServer
from tether.control.commands import WORDS, Verb
from tether.control.registry import announce
from tether.control.server import MOST_FACES, MOST_WAITING
from tether.journal.records import Said

NOTES = (Path(__file__).parents[2] / "docs" / "socket.md").read_text(encoding="utf-8")
(CLIENT,) = re.findall(r"```python\n(.*?)```", NOTES, flags=re.DOTALL)


class Run(TellingServer):
    """A run that tells of a cloud when it is told to pause, and is over then."""

    def heard(self, verb: Verb) -> None:
        """Hear a word."""
        self.tell(Said(about="note", text=f"{verb}: a cloud."), LAST)
        self._ending.set()


@pytest.fixture
def outing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    folder = tmp_path / "weir"
    folder.mkdir()
    run: list[Run] = []
    server = Run(announce(folder, "Weir", {}), FACTS, CLOCK, lambda verb: run[0].heard(verb))
    run.append(server)
    with closing(server):
        server.start()
        yield folder


def client(tmp_path: Path, *words: str) -> subprocess.CompletedProcess[str]:
    (tmp_path / "client.py").write_text(CLIENT)
    command = [sys.executable, "-I", "client.py", *words]  # -I: nothing of this project can be loaded by it
    return subprocess.run(
        command, cwd=tmp_path, env=os.environ, capture_output=True, text=True, timeout=SOON_S, check=False
    )


def test_it_has_twenty_lines_and_the_standard_library(tmp_path: Path) -> None:
    assert len(CLIENT.splitlines()) <= 20
    loaded = CLIENT.splitlines()[0].removeprefix("import ").split(", ")
    assert set(loaded) <= sys.stdlib_module_names
    assert CLIENT.count("import") == 1


def test_it_attaches_says_a_word_and_hears_to_the_end(outing: Path, tmp_path: Path) -> None:
    done = client(tmp_path, "weir", "pause")
    assert done.returncode == 0, done.stderr
    first, *middle, last = done.stdout.splitlines()
    assert first == "attached: Weir is ready"
    assert any("Said" in line and "pause: a cloud." in line for line in middle)
    assert "answer The run is told: pause." in middle
    assert last == "bye The run is over."


def test_what_the_notes_say_in_numbers_is_so() -> None:
    assert "Sixteen may be attached" in NOTES
    assert MOST_FACES == 16
    assert "a mebibyte unread" in NOTES
    assert MOST_WAITING == 1024 * 1024
    assert '{"say": "pause"}' in NOTES
    assert "pause" in {word.verb for word in WORDS}
