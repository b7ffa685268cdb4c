"""Copies beside a run: nobody waits for a disk that hangs, and a process that dies is begun anew, not for ever."""

from __future__ import annotations

import sys
from hashlib import sha256
from pathlib import Path

import pytest

from tether.engine import copy_queue
from tether.engine.copy_queue import Copier
from tether.files.copying import AskedCopy, CopyAnswer, SecondDisk


@pytest.fixture
def outing(tmp_path: Path) -> Path:
    for folder in ("weir/frames", "disk"):
        (tmp_path / folder).mkdir(parents=True)
    for number in range(3):
        (tmp_path / "weir" / name(number)).write_bytes(b"raw %d" % number)
    return tmp_path / "weir"


def name(number: int) -> str:
    return f"frames/{number}.dng"


def asked(number: int, copied: bool = False) -> AskedCopy:
    return AskedCopy(name=name(number), sha256=sha256(b"raw %d" % number).hexdigest(), copied=copied)


def copier(outing: Path, apart: bool = False) -> Copier:
    return Copier(outing=outing, under=outing.parent / "disk", apart=apart, words=outing / "copier.log")


def python_that(outing: Path, does: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Have other processes begun than those that copy."""
    other = outing.parent / "python"
    other.write_text(f"#!/bin/sh\necho the last words >&2\n{does}\n")
    other.chmod(0o700)
    monkeypatch.setattr(sys, "executable", str(other))


@pytest.mark.parametrize("apart", [False, True])
def test_files_are_copied_and_told_once(outing: Path, apart: bool) -> None:
    copies = copier(outing, apart)
    for number in range(3):
        copies.copy(asked(number))
    copies.wait(30)
    assert copies.done() == [CopyAnswer(name=name(number)) for number in range(3)]
    assert (copies.done(), copies.there, copies.files, copies.owes()) == ([], 3, 3, False)
    copies.give_up()
    assert (outing.parent / "disk" / "weir" / name(2)).read_bytes() == b"raw 2"


def test_without_a_second_disk_nothing_is_owed(outing: Path) -> None:
    copies = Copier()
    copies.copy(asked(0))
    assert (copies.to, copies.owes(), copies.files, copies.done()) == (None, False, 0, [])


def test_what_was_copied_before_is_not_told_again_and_counts(outing: Path) -> None:
    copies = copier(outing)
    copies.copy(asked(0))
    again = copier(outing)
    again.copy(asked(0, copied=True))
    assert (again.done(), again.there, again.files, again.by_size) == ([], 1, 1, 1)


def test_what_was_copied_before_and_is_gone_is_copied_anew_and_told(outing: Path) -> None:
    again = copier(outing)
    again.copy(asked(0, copied=True))
    assert ([one.name for one in again.done()], again.there, again.by_size) == ([name(0)], 1, 0)


def test_what_a_disk_did_not_take_is_tried_again_once_it_takes_something(
    outing: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    copies, full = copier(outing), CopyAnswer(name=name(0), problem="The disk is full.", kind="supply")
    with monkeypatch.context() as disk:
        disk.setattr(SecondDisk, "copied", lambda _disk, _asked: full)
        copies.copy(asked(0))
    assert (copies.done(), copies.there, copies.files) == ([full], 0, 1)
    copies.copy(asked(1))
    assert [one.name for one in copies.done()] == [name(1), name(0)]
    assert (copies.there, copies.files) == (2, 2)


def test_a_disk_that_hangs_is_waited_for_no_longer(outing: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    python_that(outing, "exec sleep 600", monkeypatch)
    monkeypatch.setattr(copy_queue, "STUCK_S", 0.0)
    copies = copier(outing, apart=True)
    copies.copy(asked(0))
    assert not copies.owes()
    assert (copies.there, copies.files, copies.done()) == (0, 1, [])
    copies.give_up()
    assert not copies.owes()


def test_more_than_a_pipe_holds_is_asked_without_waiting(outing: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A process that reads nothing takes 64 KiB of lines; these are some 140 KiB."""
    python_that(outing, "exec sleep 600", monkeypatch)
    copies = copier(outing, apart=True)
    for number in range(1000):
        copies.copy(AskedCopy(name=f"frames/{number:04d}.dng", sha256="0" * 64))
    assert copies.files == 1000
    copies.give_up()


def test_a_process_that_dies_is_begun_anew_and_not_for_ever(outing: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    python_that(outing, "exit 1", monkeypatch)
    copies = copier(outing, apart=True)
    copies.copy(asked(0))
    copies.wait(30)
    (answer,) = copies.done()
    assert answer.problem == (
        f"The process that copies has ended again and again. What it said last is in {outing / 'copier.log'}."
    )
    assert (outing / "copier.log").read_text().count("the last words\n") == copy_queue.MOST_STARTED
    copies.copy(asked(1))
    assert [one.name for one in copies.done()] == [name(1)], "the next is refused at once"


def test_one_that_died_once_is_followed_by_one_that_copies(outing: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real, first = sys.executable, outing.parent / "first"
    python_that(outing, f'test -e {first} && exec {real} "$@"\ntouch {first}\nexit 1', monkeypatch)
    copies = copier(outing, apart=True)
    copies.copy(asked(0))
    copies.wait(30)
    assert copies.done() == [CopyAnswer(name=name(0))]
    copies.give_up()
