"""Hearing the person: single keys at a terminal, lines where there is none, and nothing in the background."""

from __future__ import annotations

import os
import pty
import queue
import sys
import termios
from collections.abc import Callable, Iterator
from typing import TextIO

import pytest

from tether.command import keys
from tether.command.keys import listening


class Heard:
    """What was heard, in order."""

    def __init__(self) -> None:
        self.all: queue.SimpleQueue[str] = queue.SimpleQueue()

    def next(self, count: int) -> list[str]:
        return [self.all.get(timeout=10) for _ in range(count)]

    @property
    def hands(self) -> tuple[Callable[[str], None], Callable[[], None], Callable[[str], None]]:
        return self.all.put, lambda: self.all.put("help"), self.all.put


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(keys, "_LOOK_S", 0.005)


@pytest.fixture
def line(monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    """Standard input that is no terminal; the end that is written to."""
    ours, theirs = os.pipe()
    with os.fdopen(ours) as source:
        monkeypatch.setattr(sys, "stdin", source)
        yield theirs
        os.close(theirs)


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[int, TextIO]]:
    """Standard input that is a terminal of ours; the end that is typed at, and the other."""
    ours, theirs = pty.openpty()
    monkeypatch.setattr(os, "tcgetpgrp", lambda _: os.getpgrp())
    with os.fdopen(theirs) as source:
        monkeypatch.setattr(sys, "stdin", source)
        yield ours, source
    os.close(ours)


def test_words_are_heard_line_by_line_however_they_come(line: int) -> None:
    heard = Heard()
    with listening(*heard.hands):
        os.write(line, b"next\nstop now")
        said = heard.next(1)  # so that what follows is read apart
        os.write(line, b" and keep\nPause\n\n?\nfly\n")
        said += heard.next(4)
    assert said == ["next", "stop now and keep", "pause", "help", '"fly" is not known here; "?" lists what is.']


def test_the_end_of_the_words_ends_the_listening_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    ours, theirs = os.pipe()
    os.write(theirs, b"pause\nnext")
    os.close(theirs)
    heard = Heard()
    with os.fdopen(ours) as source:
        monkeypatch.setattr(sys, "stdin", source)
        with listening(*heard.hands):
            assert heard.next(1) == ["pause"]
    assert heard.all.empty(), "a line without an end is no word"


def test_keys_are_heard_one_by_one_without_being_shown(terminal: tuple[int, TextIO]) -> None:
    typed, source = terminal
    before = termios.tcgetattr(source)
    heard = Heard()
    with listening(*heard.hands):
        during = termios.tcgetattr(source)
        os.write(typed, b" pz?")
        said = heard.next(4)
    assert said == ["answer", "pause", '"z" is not known here; "?" lists what is.', "help"]
    assert not during[3] & (termios.ECHO | termios.ICANON)
    assert termios.tcgetattr(source) == before


def test_a_terminal_is_put_back_also_where_the_block_fails(terminal: tuple[int, TextIO]) -> None:
    _, source = terminal
    before = termios.tcgetattr(source)
    with pytest.raises(ZeroDivisionError), listening(*Heard().hands):
        raise ZeroDivisionError
    assert termios.tcgetattr(source) == before


def test_in_the_background_of_a_terminal_nothing_is_heard(
    terminal: tuple[int, TextIO], monkeypatch: pytest.MonkeyPatch
) -> None:
    typed, source = terminal
    monkeypatch.setattr(os, "tcgetpgrp", lambda _: os.getpgrp() + 1)
    before = termios.tcgetattr(source)
    heard = Heard()
    with listening(*heard.hands):
        os.write(typed, b"p")
        assert termios.tcgetattr(source) == before
    assert heard.all.empty()


def test_without_standard_input_the_block_runs_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", None)
    with listening(*Heard().hands):
        pass
