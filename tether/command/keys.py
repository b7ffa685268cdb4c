"""Hear the person at a terminal: single keys where there is one, verbs written out a line each where there is none."""

from __future__ import annotations

import os
import select
import sys
import termios
import threading
import tty
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

from tether.control.commands import Verb, verb_of_key, verb_of_words

#: How often the listening thread looks whether it is still wanted [s].
_LOOK_S = 0.2


@contextmanager
def listening(
    say: Callable[[Verb], None], ask_help: Callable[[], None], wrong: Callable[[str], None]
) -> Iterator[None]:
    """Listen on standard input while the block runs.

    Parameters
    ----------
    say
        Called with each verb heard, in the listening thread.
    ask_help
        Called when the person asks for the keys with "?".
    wrong
        Called with a sentence for what is no key or verb.
    """
    source = sys.stdin
    if source is None or not _ours(source):
        yield
        return
    ended = threading.Event()
    thread = threading.Thread(target=_listen, args=(source, ended, say, ask_help, wrong), daemon=True)
    with _single_keys(source):
        thread.start()
        try:
            yield
        finally:
            ended.set()
            thread.join()


def _ours(source: TextIO) -> bool:
    """Say whether keys typed there are meant for us: not where we run in the background of a terminal."""
    return not source.isatty() or os.tcgetpgrp(source.fileno()) == os.getpgrp()


@contextmanager
def _single_keys(source: TextIO) -> Iterator[None]:
    """Have a terminal hand over each key at once, without showing it, and put it back as it was."""
    if not source.isatty():
        yield
        return
    before = termios.tcgetattr(source)
    try:
        tty.setcbreak(source)
        yield
    finally:
        termios.tcsetattr(source, termios.TCSADRAIN, before)


def _listen(
    source: TextIO,
    ended: threading.Event,
    say: Callable[[Verb], None],
    ask_help: Callable[[], None],
    wrong: Callable[[str], None],
) -> None:
    keys = source.isatty()
    rest = ""
    while not ended.is_set():
        if not select.select([source], [], [], _LOOK_S)[0]:
            continue
        heard = os.read(source.fileno(), 1024).decode(errors="replace")
        if not heard:
            return
        if keys:
            said = list(heard)
        else:
            *said, rest = (rest + heard).split("\n")
        for one in said:
            if one.strip() == "?":
                ask_help()
                continue
            verb = verb_of_key(one) if keys else verb_of_words(one)
            if verb:
                say(verb)
            elif one.strip():
                wrong(f'"{one.strip()}" is not known here; "?" lists what is.')
