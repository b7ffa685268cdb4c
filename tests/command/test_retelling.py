"""A run told on to other programs: the lines of its socket, until it is over; again where it was lost."""

from __future__ import annotations

import os
import socket
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from tests.control.rig import LAST, Rig
from tests.control.test_client import greeting
from tests.schemas import valid
from tether.command import retelling
from tether.command.retelling import retell
from tether.control.registry import Running
from tether.journal.records import Said


@pytest.fixture
def rig(tmp_path: Path) -> Iterator[Rig]:
    folder = tmp_path / "run"
    folder.mkdir(mode=0o700)
    rig = Rig(folder / "a.socket")
    with closing(rig.server):
        rig.server.start()
        yield rig


def of(path: Path, **pids: int) -> Running:
    return Running(outing=Path("/outings/weir"), title="Weir", pids=pids, socket=path)


def test_every_line_is_valid_and_the_last_says_goodbye(rig: Rig) -> None:
    lines: list[str] = []

    def write(line: str) -> None:
        lines.append(line)
        if len(lines) == 1:
            rig.server.tell(Said(about="note", text="Cloud."))
            rig.server.tell(LAST)
            rig.server.close()

    assert retell(of(rig.path), write) == LAST
    told = [valid("watch", line) for line in lines]
    assert [one["kind"] for one in told] == ["hello", "record", "record", "bye"]
    assert [one.get("record") for one in told][1:3] == ["Said", "LadderEnded"]
    assert told[0]["schema"] == "tether-socket/2"


@pytest.mark.prove
def test_of_a_run_that_vanishes_and_is_over_this_program_says_the_last_line(tmp_path: Path, rig: Rig) -> None:
    lines: list[str] = []
    with vanishing(tmp_path / "a", greeting(rig)):
        assert retell(of(tmp_path / "a"), lines.append) is None
    hello, last = (valid("watch", line) for line in lines)
    assert hello["kind"] == "hello"
    assert (last["kind"], last["again"]) == ("bye", True)
    assert "disappeared" in last["sentence"]


@contextmanager
def vanishing(path: Path, greeting: bytes) -> Iterator[None]:
    """Something at a path that greets one face and is gone."""
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind(str(path))
        listening.listen()

        def greet() -> None:
            with listening.accept()[0] as end:
                end.sendall(greeting)

        greeter = threading.Thread(target=greet)
        greeter.start()
        yield
        greeter.join()


def test_a_run_that_was_lost_is_attached_to_again(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(retelling, "LOOKS_EVERY_S", 0.0)
    alive = of(rig.path, guard=os.getpid())
    face = retelling._again(alive)
    assert face is not None
    face.close()
    gone = of(rig.path.with_name("none"))
    assert retelling._again(gone) is None


def test_a_person_who_leaves_leaves_the_run_alone(rig: Rig) -> None:
    def leave(_line: str) -> None:
        raise KeyboardInterrupt

    assert retell(of(rig.path), leave) is None
