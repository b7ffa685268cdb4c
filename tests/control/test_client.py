"""A face's side of the socket: what is waited for, and how a run that is gone is told from one that may come back."""

from __future__ import annotations

import json
import re
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from tests.control.rig import LAST, SOON_S, Rig, messages
from tests.journal.shown import entry
from tether.control import client as client_module
from tether.control.client import Face, GoneError, _Line
from tether.control.messages import Bye, LineAnswer, Message, StreamEntry, encode
from tether.errors import LostError
from tether.journal.records import Said


def greeting(rig: Rig) -> bytes:
    """Return the hello of a real run as a line."""
    with rig.plain() as end:
        return json.dumps(next(messages(end))).encode() + b"\n"


@contextmanager
def strange_run(path: Path, greeting: bytes) -> Iterator[None]:
    """Something at a path that greets each face with some bytes and leaves it there until the block ends."""
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind(str(path))
        listening.listen()

        def greet() -> None:
            with listening.accept()[0] as end:
                end.sendall(greeting)
                over.wait()

        over = threading.Event()
        greeter = threading.Thread(target=greet)
        greeter.start()
        try:
            yield
        finally:
            over.set()
            greeter.join()


def test_a_run_that_vanishes_without_goodbye_is_worth_another_try(tmp_path: Path, rig: Rig) -> None:
    with strange_run(tmp_path / "a", greeting(rig)):
        face = Face.attach(tmp_path / "a")
    with closing(face), pytest.raises(GoneError, match="disappeared") as caught:
        face.say("pause")
    assert caught.value.again


def test_a_run_of_another_version_is_a_sentence(tmp_path: Path) -> None:
    old = b'{"kind":"hello","schema":"tether-socket/0"}\n'
    with strange_run(tmp_path / "a", old), pytest.raises(LostError, match="another version"):
        Face.attach(tmp_path / "a")


def test_a_run_that_does_not_greet_is_not_waited_for_without_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(client_module, "ANSWER_S", 0.05)
    with strange_run(tmp_path / "a", b""), pytest.raises(LostError, match="has not answered"):
        Face.attach(tmp_path / "a")


def test_a_word_that_is_not_answered_is_not_waited_for_without_end(
    tmp_path: Path, rig: Rig, monkeypatch: pytest.MonkeyPatch
) -> None:
    with strange_run(tmp_path / "a", greeting(rig)), closing(Face.attach(tmp_path / "a")) as face:
        monkeypatch.setattr(client_module, "ANSWER_S", 0.05)
        with pytest.raises(LostError, match="has not answered within"):
            face.say("pause")


def test_a_gap_in_the_events_is_worth_another_try(tmp_path: Path, rig: Rig) -> None:
    gap = encode(StreamEntry(entry=entry(LAST, 2)))
    with (
        strange_run(tmp_path / "a", greeting(rig) + gap),
        closing(Face.attach(tmp_path / "a")) as face,
        pytest.raises(GoneError, match="missing") as caught,
    ):
        face.next(SOON_S)
    assert caught.value.again


def test_nobody_there_is_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(GoneError, match=re.escape(f"No run answers at {tmp_path / 'none'}.")):
        Face.attach(tmp_path / "none")


# By lines that come in pieces, late, or never


@contextmanager
def two_ends() -> Iterator[tuple[_Line, socket.socket]]:
    """Yield a line, and the run's end of it."""
    ours, theirs = socket.socketpair()
    with closing(theirs), closing(_Line(ours)) as line:
        yield line, theirs


def record(text: str, stream: int = 1) -> bytes:
    return encode(StreamEntry(entry=entry(Said(about="note", text=text), stream)))


def test_a_message_that_comes_in_pieces_is_one_and_two_that_come_at_once_are_two() -> None:
    with two_ends() as (line, run):
        both = record("one") + record("two", 2)
        run.sendall(both[:10])
        assert line.receive(0.0) is None, "not yet whole"
        run.sendall(both[10:])
        texts = [line.receive(time.monotonic() + SOON_S) for _ in range(2)]
        assert [one.entry.record.text for one in texts if isinstance(one, StreamEntry)] == ["one", "two"]  # type: ignore[union-attr]


@pytest.mark.parametrize("again", [True, False])
def test_a_goodbye_is_told_again_to_whoever_asks_again(again: bool) -> None:
    with two_ends() as (line, run):
        run.sendall(encode(Bye(sentence="It is over.", again=again)))
        for _ in range(2):
            with pytest.raises(GoneError, match=r"It is over\.") as caught:
                line.receive(None)
            assert caught.value.again == again


def test_a_run_that_hangs_up_without_a_word_may_be_taken_up_again() -> None:
    with two_ends() as (line, run):
        run.close()
        with pytest.raises(GoneError, match="it may be resumed") as caught:
            line.receive(None)
        assert caught.value.again


def test_the_answer_to_another_word_is_not_ones_own_and_what_comes_meanwhile_is_heard() -> None:
    heard: list[Message] = []
    with two_ends() as (line, run):
        run.sendall(encode(LineAnswer(to=1, ok=True, sentence="Not yours.")) + record("between"))
        run.sendall(encode(LineAnswer(to=2, ok=True, sentence="Paused.")))
        assert line.answer_to(2, "pause", heard.append) == "Paused."
    assert [type(one) for one in heard] == [LineAnswer, StreamEntry, LineAnswer]


def test_a_word_that_is_refused_is_an_error_with_its_sentence() -> None:
    with two_ends() as (line, run):
        run.sendall(encode(LineAnswer(to=1, ok=False, sentence="The run is over.")))
        with pytest.raises(LostError, match=r"The run is over\."):
            line.answer_to(1, "pause", lambda _: None)
