"""Telling a camera on the wire what the person did: it is heard, or it is said that it was not."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from tether.body import staging
from tether.body.protocol import SceneChange
from tether.body.staging import tell_stage
from tether.body.wire import Wire, unpack
from tether.errors import LostError

CAPPED = SceneChange(capped=True)


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A short path for a socket."""
    monkeypatch.chdir(tmp_path)
    return "wire.sock"


def serving(place: str, does: Callable[[Wire], object]) -> threading.Thread:
    """Serve one connection at a place."""
    listener = socket.socket(socket.AF_UNIX)
    listener.bind(place)
    listener.listen()

    def serve() -> None:
        with listener:
            end, _ = listener.accept()
            with end:
                does(Wire(end))

    thread = threading.Thread(target=serve)
    thread.start()
    return thread


def test_it_is_told_and_waited_for(place: str) -> None:
    heard: list[object] = []

    def answer(wire: Wire) -> None:
        message = wire.receive()
        heard.append((message["ask"], unpack(message["with"])))
        wire.send({"id": message["id"], "answer": True})

    thread = serving(place, answer)
    tell_stage(Path(place), CAPPED)
    assert heard == [("stage", (CAPPED,))]
    thread.join()


def test_one_that_hangs_up_or_says_nothing_does_not_answer(place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    thread = serving(place, Wire.receive)
    with pytest.raises(LostError, match="does not answer"):
        tell_stage(Path(place), CAPPED)
    thread.join()
    Path(place).unlink()
    monkeypatch.setattr(staging, "WITHIN_S", 0.01)
    told = threading.Event()
    thread = serving(place, lambda _: told.wait(10))
    with pytest.raises(LostError, match="does not answer"):
        tell_stage(Path(place), CAPPED)
    told.set()
    thread.join()


def test_one_that_is_not_there_is_gone(place: str) -> None:
    with pytest.raises(LostError, match="is gone"):
        tell_stage(Path(place), CAPPED)
