"""Copies the files of an outing to another disk: one by one, each read back from that disk and compared.

``python -m tether.files.copying OUTING UNDER`` does so at low priority beside a run: it is asked by lines of JSON, an
:class:`AskedCopy` each, and answers each with a line, a :class:`CopyAnswer`. A disk that hangs then hangs nobody else.
Only the standard library is loaded here.
"""

from __future__ import annotations

import faulthandler
import json
import os
import shutil
import sys
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from tether.errors import PlanError, TetherError, system_reason
from tether.files.errors import NameTakenError, UnreadableFileError, disk_sentences
from tether.files.safe import arriving, safe_write, settle, sha256_of

#: Of twenty steps of politeness, as a system counts it: after the processes that read frames. Its reading and writing
#: comes last, too (ioprio_set(2): without a class of its own it goes by this).
_POLITE = 19


@dataclass(frozen=True, kw_only=True)
class AskedCopy:
    """A file that is to be copied.

    Attributes
    ----------
    name
        Its path in the outing.
    sha256
        What it had when it came from the camera; None: it may change, and is written anew where it did.
    copied
        Whether it was copied and compared before: then its size alone is looked at.
    """

    name: str
    sha256: str | None
    copied: bool = False


@dataclass(frozen=True, kw_only=True)
class CopyAnswer:
    """What came of copying a file: in a sentence what is wrong, and of what kind that is; None: all is well.

    `apart` is whether it went to another disk than the outing's, `by_size` whether it was there already, as one that
    was compared before, and only its size was looked at now.
    """

    name: str
    problem: str | None = None
    kind: str | None = None
    apart: bool = False
    by_size: bool = False


class SecondDisk:
    """A folder on another disk that an outing is copied into, under its own name.

    Where it was on another disk than the outing before, and no longer is, that disk is gone: what is left of its place
    is a folder of the outing's own disk, which is not filled with copies.
    """

    def __init__(self, outing: Path, under: Path, *, was_apart: bool = False) -> None:
        self.outing = outing.resolve()
        self.under = under
        self.to = under / self.outing.name
        self._was_apart = was_apart or is_apart(self.outing, under)

    def copied(self, asked: AskedCopy) -> CopyAnswer:
        """Copy a file, and say what came of it."""
        try:
            self._look()
            by_size = self._copy(asked)
        except TetherError as error:
            return CopyAnswer(name=asked.name, problem=str(error), kind=error.kind)
        except OSError as error:
            problem = f"{self.outing / asked.name} can't be read: {system_reason(error)}."
            return CopyAnswer(name=asked.name, problem=problem, kind="unread")
        return CopyAnswer(name=asked.name, apart=self._was_apart, by_size=by_size)

    def _look(self) -> None:
        apart = is_apart(self.outing, self.under)
        if not self.under.is_dir() or (self._was_apart and not apart):
            raise PlanError(f"The disk of {self.under} is not there. Connect it again.")
        self._was_apart = apart

    def _copy(self, asked: AskedCopy) -> bool:
        """Copy a file; say whether only the size of a copy was looked at: to read all again takes long on each run."""
        path, to = self.outing / asked.name, self.to / asked.name
        if asked.copied and to.is_file() and to.stat().st_size == path.stat().st_size:
            return True
        if asked.sha256 is None:
            copy_changing(path, to)
        else:
            copy_frame(path, to, asked.sha256)
        return False


def is_apart(outing: Path, under: Path) -> bool:
    """Say whether a folder is on another disk than an outing; False where it is not there."""
    try:
        return under.stat().st_dev != outing.stat().st_dev
    except OSError:
        return False


def copy_changing(path: Path, to: Path) -> None:
    """Copy a file that may have changed since it was copied; the copy is written anew only where it is another.

    Raises
    ------
    SupplyError, PlanError, LostError
        The disk would not take it, see :func:`tether.files.errors.disk_sentences`.
    OSError
        It can't be read.
    """
    with disk_sentences(to):
        to.parent.mkdir(parents=True, exist_ok=True)
    data = path.read_bytes()
    if not to.exists() or to.read_bytes() != data:
        safe_write(to, data)


def copy_frame(path: Path, to: Path, known: str | None) -> bool:
    """Copy a file that never changes, read the copy back and compare; say whether that was still to be done.

    Parameters
    ----------
    path, to
        From and to; the folder is made. A copy that is there and whole is left.
    known
        The SHA-256 that it had when it came from the camera; None: not known.

    Raises
    ------
    NameTakenError
        There is another file at `to`; it is left as it is.
    PlanError
        It is no longer what came from the camera.
    UnreadableFileError
        The copy is not the same.
    SupplyError, LostError
        The disk would not take it, see :func:`tether.files.errors.disk_sentences`.
    """
    with disk_sentences(path):
        sha256 = sha256_of(path)
    if known is not None and sha256 != known:
        raise PlanError(
            f"{path} is no longer what came from the camera, and is not copied; look for another copy of it."
        )
    with disk_sentences(to):
        to.parent.mkdir(parents=True, exist_ok=True)
        there = sha256_of(to) if to.exists() else None
    if there == sha256:
        return False
    if there is not None:
        raise NameTakenError(f"{to} is another file, and is left as it is. Move it away, then copy again.")
    with disk_sentences(to):
        try:
            shutil.copyfile(path, arriving(to))
            _put_out_of_memory(arriving(to))
        except OSError:
            with suppress(OSError):  # of a disk that is gone nothing can be taken off
                arriving(to).unlink(missing_ok=True)
            raise
    copied = settle(arriving(to), to, expected_size=path.stat().st_size)
    if copied.sha256 != sha256:
        raise UnreadableFileError(f"{to} is not what {path} is: the disk is not to be trusted.")
    return True


def _put_out_of_memory(path: Path) -> None:
    """Have what was written reach the disk, and have the next reading come from there rather than from memory."""
    with path.open("rb") as file:
        os.fsync(file.fileno())
        os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def _answer_lines(disk: SecondDisk) -> None:
    for line in sys.stdin:
        sys.stdout.write(json.dumps(asdict(disk.copied(AskedCopy(**json.loads(line))))) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    faulthandler.enable()
    os.nice(_POLITE)
    _answer_lines(SecondDisk(Path(sys.argv[1]), Path(sys.argv[2]), was_apart="apart" in sys.argv[3:]))
