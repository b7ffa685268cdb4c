"""A disk that is full, refuses, is gone or slow, and a wall clock that is set, for the processes of one run.

Full is a small file system of its own, in a mount namespace; the rest is laid before the C library (`disk.c`).
"""

from __future__ import annotations

import errno
import mmap
import os
import shutil
import struct
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from tests.faults.harness import Act

#: How large the disk that is filled is [bytes].
ROOM = 48 * 2**20
IN_NAMESPACE = ("unshare", "--mount", "--map-root-user") if os.getuid() else ("unshare", "--mount")
_SHARED = Path("/dev/shm")  # noqa: S108 - a file system beside that of the cells
_SOURCE = Path(__file__).with_name("disk.c")
_LAID_OUT = "=4q"


def why_no_namespace() -> str | None:
    """Say why no file system can be mounted for a cell; None where one can."""
    tried = (
        subprocess.run((*IN_NAMESPACE, "true"), capture_output=True, check=False) if shutil.which("unshare") else None
    )
    return None if tried and not tried.returncode else "no mount namespace is given here"


def why_not_laid() -> str | None:
    """Say why nothing can be laid before the C library; None where it can."""
    if not shutil.which("cc"):
        return "there is no C compiler"
    return None if _SHARED.is_dir() else f"there is no {_SHARED}"


def small_disk(root: Path) -> Path:
    """Mount a disk with little room, in the namespace that this process has of its own, and return its folder."""
    disk = root / "disk"
    disk.mkdir()
    subprocess.run(("mount", "-t", "tmpfs", "-o", f"size={ROOM}", "tmpfs", str(disk)), check=True)
    return disk


def fill(disk: Path) -> Act:
    """Return what fills a disk to its last byte."""

    def full(_: Path) -> bool:
        with suppress(OSError), (disk / "filler").open("wb", buffering=0) as file:
            while True:
                file.write(b"\0" * 2**16)
        with suppress(OSError), (disk / "filler-2").open("wb", buffering=0) as file:
            while True:
                file.write(b"\0")
        return True

    return full


def make_room(disk: Path) -> None:
    """Free what was filled."""
    for name in ("filler", "filler-2"):
        (disk / name).unlink(missing_ok=True)


@contextmanager
def disk_of_its_own() -> Iterator[Path]:
    """Yield a folder on a file system on which nothing else of a cell lies."""
    with tempfile.TemporaryDirectory(prefix="tf-", dir=_SHARED, ignore_cleanup_errors=True) as folder:
        yield Path(folder)


def copy_left(folder: Path, to: Path) -> None:
    """Copy what a cell left, without sockets."""

    def sockets(at: str, names: list[str]) -> list[str]:
        return [name for name in names if (Path(at) / name).is_socket()]

    shutil.copytree(folder, to, symlinks=True, ignore=sockets)


class Spoilt:
    """What is laid before the C library of processes that are started from now on; see `disk.c`."""

    def __init__(self, root: Path, under: Path) -> None:
        laid, told = root / "laid.so", root / "told"
        subprocess.run(("cc", "-shared", "-fPIC", "-O1", "-o", str(laid), str(_SOURCE), "-ldl"), check=True)
        told.write_bytes(struct.pack(_LAID_OUT, 0, 0, 0, 0))
        with told.open("r+b") as file:
            self._told = mmap.mmap(file.fileno(), 0)
        os.environ.update({"LD_PRELOAD": str(laid), "SPOILT": str(told), "SPOILT_UNDER": str(under)})

    def tell(self, *, error: float = 0, gone: float = False, flush_s: float = 0.0, clock_s: float = 0.0) -> None:
        """Have it so from now on."""
        self._told[:] = struct.pack(_LAID_OUT, int(error), int(gone), round(flush_s * 1000), round(clock_s))

    def act(self, **how: float) -> Act:
        """Return what has it so when the moment has come."""

        def do(_: Path) -> bool:
            self.tell(**how)
            return True

        return do

    def mend(self) -> None:
        """Have all as it should be."""
        self.tell()


READ_ONLY: dict[str, float] = {"error": errno.EROFS}
GONE: dict[str, float] = {"error": errno.EIO, "gone": True}
SLOW: dict[str, float] = {"flush_s": 1.5}
