"""Processes of our own, and where one leaves its last words: a file that is added to, so that the next wipes nothing.

Only the standard library is loaded here, so that the process that holds the shutter can use it.
"""

from __future__ import annotations

import os
import subprocess
import sys
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import IO, Any, BinaryIO

#: What the line before a process's words begins with.
MARK = "-- "


def log_of(path: Path, what: str) -> BinaryIO:
    """Open the file that a process is to write its words to, at its end, with a dated line that says what begins.

    Raises
    ------
    OSError
        If it can't be written.
    """
    log = path.open("ab")
    try:
        named = "".join(one if one.isprintable() else "?" for one in what)
        log.write(f"{MARK}{datetime.now().astimezone():%Y-%m-%d %H:%M:%S %z}  {named}\n".encode())
        log.flush()
    except OSError:
        log.close()
        raise
    return log


def log_if_any(path: Path | None, what: str) -> BinaryIO:
    """Open the file of a process's words as :func:`log_of` does; nowhere where none is kept, or it can't be written.

    What the process does comes before what it says.
    """
    if path is not None:
        with suppress(OSError):
            return log_of(path, what)
    return Path(os.devnull).open("wb")


def where_it_said(path: Path | None) -> str:
    """Say where a process's words are, as a sentence behind another; nothing where none are kept."""
    return f" What it said last is in {path}." if path else ""


def say_last(text: str) -> None:
    """Say something on standard error; where that is a log on a disk that is full or gone, it is lost and nothing else.

    What waited there to be written would change the exit code at the end; so there is nowhere to write from then on.
    """
    try:
        sys.stderr.write(text)
        sys.stderr.flush()
    except OSError:
        sys.stderr = Path(os.devnull).open("w")  # noqa: SIM115 - it stays open to the end


def start_beside(module: str, *words: str, log: IO[Any], **how: Any) -> subprocess.Popen[Any]:
    """Start a module of ours as a process beside this one.

    Parameters
    ----------
    module, words
        What is run by a fresh interpreter, and with which words.
    log
        Where it leaves its last words, and all else that it prints unless `stdout` says otherwise.
    how
        As for `subprocess.Popen`; standard input is nothing unless said.
    """
    how = {"stdin": subprocess.DEVNULL, "stdout": log, **how}
    command = [sys.executable, "-P", "-m", module, *words]
    return subprocess.Popen(command, stderr=log, **how)  # noqa: S603 - our own interpreter


def start_apart(module: str, *words: str, log: IO[Any], **how: Any) -> subprocess.Popen[bytes]:
    """Start one in a session of its own, so that no terminal's Ctrl-C or end is for it; see :func:`start_beside`."""
    return start_beside(module, *words, log=log, start_new_session=True, **how)


def see_end(process: subprocess.Popen[Any], within_s: float) -> None:
    """Wait until a process has ended, and end it by force where it has not within so long [real s]."""
    try:
        process.wait(within_s)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()


def one_thread() -> dict[str, str]:
    """Return the environment of a process that reckons in one thread: more get in each other's way, and in ours."""
    return {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
