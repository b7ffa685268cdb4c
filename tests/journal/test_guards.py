"""One writer at a time, and room kept for bad days."""

from __future__ import annotations

import errno
import fcntl
import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from tether.errors import BusyError
from tether.journal import guards
from tether.journal.guards import LOCK_NAME, RESERVE_BYTES, RESERVE_NAME, Reserve, WriterLock, no_writer


@pytest.fixture(autouse=True)
def _impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guards, "_PATIENCE_S", 0.0)


def test_a_child_of_a_dead_writer_that_has_its_lock_still_is_waited_for(tmp_path: Path) -> None:
    """A process that is killed while it starts another leaves its lock with that one until it is started."""
    with subprocess.Popen([sys.executable, "-c", ""]) as dead:
        pass
    file = os.open(tmp_path / LOCK_NAME, os.O_RDWR | os.O_CREAT)
    os.write(file, f"{dead.pid}\n".encode())
    fcntl.flock(file, fcntl.LOCK_EX)
    started = threading.Timer(0.3, os.close, [file])
    started.start()
    WriterLock(tmp_path).release()  # patience with one who lives is none here
    started.join()


def test_a_second_writer_is_turned_away_and_told_who_writes(tmp_path: Path) -> None:
    lock = WriterLock(tmp_path)
    with pytest.raises(BusyError, match=rf"written by another run \(process {os.getpid()}\)\. Watch or stop that run"):
        WriterLock(tmp_path)
    lock.release()
    WriterLock(tmp_path).release()


def test_the_lock_file_stays_and_names_nobody_once_it_was_given_back(tmp_path: Path) -> None:
    lock = WriterLock(tmp_path)
    assert (tmp_path / LOCK_NAME).read_text() == f"{os.getpid()}\n"
    lock.release()
    assert (tmp_path / LOCK_NAME).read_text() == ""


def test_whoever_reads_knows_whether_somebody_writes_and_leaves_no_file(tmp_path: Path) -> None:
    with no_writer(tmp_path) as free:
        assert free
    assert list(tmp_path.iterdir()) == []
    lock = WriterLock(tmp_path)
    with no_writer(tmp_path) as free:
        assert not free
    lock.release()
    with no_writer(tmp_path) as free:
        assert free


def test_while_it_is_read_nobody_begins_to_write(tmp_path: Path) -> None:
    WriterLock(tmp_path).release()
    with no_writer(tmp_path), pytest.raises(BusyError, match="process unknown"):
        WriterLock(tmp_path)
    WriterLock(tmp_path).release()


def test_the_room_is_really_taken_and_given_back(tmp_path: Path) -> None:
    reserve = Reserve(tmp_path)
    reserve.keep()
    kept = (tmp_path / RESERVE_NAME).stat()
    assert kept.st_size == RESERVE_BYTES
    assert kept.st_blocks * 512 >= RESERVE_BYTES, "a file with holes would keep no room"
    reserve.keep()
    reserve.release()
    reserve.release()
    assert list(tmp_path.iterdir()) == []


def test_where_the_disk_has_no_such_room_nothing_is_left_lying(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "posix_fallocate", full)
    with pytest.raises(OSError, match="No space left"):
        Reserve(tmp_path).keep()
    assert list(tmp_path.iterdir()) == []
